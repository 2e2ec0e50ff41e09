"""What stands on the labels that are asked for: of casks by number or by the record that names them, of a lot, of the
cases of a bottling.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from typing import Final

from django.utils import timezone

from batches.models import Mention, Record, State
from batches.pages.records.record_table import with_latest
from batches.sheets.register import all_sheets, sheet_of
from batches.stores.book import key_of
from batches.stores.models import Lot
from distillery import figures
from distillery.labels.drawing import BarLabel, CaskLabel
from distillery.labels.scanned import Unscannable, number_of
from distillery.plant.lookup import Plant
from distillery.plant.models import Kind, Vessel
from distillery.typed.spellings import spellings

MOST: Final = 400
BETWEEN: Final = re.compile(r"[,;\s]+")


class NoSuchLabel(ValueError):
    """There is nothing to label by this number; one sentence."""


def cask_labels(typed: str) -> list[CaskLabel]:
    """Labels of the casks whose numbers were typed or scanned, with commas, blanks or line ends between them; a record
    among them stands for every cask it names. Raises NoSuchLabel.
    """
    plant, found = Plant(), dict[int, Vessel]()
    wanted = [one for one in BETWEEN.split(typed) if one]
    if not wanted:
        raise NoSuchLabel("No number is typed; type the numbers of casks, or of the record that fills them.")
    plant.look_up(wanted[:MOST])
    for one in wanted[:MOST]:
        try:
            number = number_of(one)
        except Unscannable as refused:
            raise NoSuchLabel(str(refused)) from refused
        vessel = plant.vessel_meant(number)
        named = [vessel] if vessel is not None and vessel.kind == Kind.CASK else list(_casks_of(number))
        if not named:
            raise NoSuchLabel(f"There is no cask {number[:60]}, and no record of that number names one.")
        found.update((cask.pk, cask) for cask in named)
    if len(found) > MOST or len(wanted) > MOST:
        raise NoSuchLabel(f"At most {MOST} labels are made at once; ask for fewer casks.")
    return [_of_cask(one) for one in found.values()]


def _casks_of(number: str) -> Iterator[Vessel]:
    """The casks that a record names in its box for a cask, in the order of its lines."""
    record = Record.objects.filter(number__in=spellings(number)).exclude(state=State.VOID).first()
    of = sheet_of(record.kind).of_casks if record is not None else None
    if record is None or of is None:
        return
    codes = (
        record.mentions.filter(what=Mention.What.VESSEL, field=of.cask).order_by("pk").values_list("code", flat=True)
    )
    casks = {one.code: one for one in Vessel.objects.filter(code__in=codes, kind=Kind.CASK).select_related("cask")}
    yield from (casks[code] for code in dict.fromkeys(codes) if code in casks)


def _of_cask(vessel: Vessel) -> CaskLabel:
    cask = vessel.cask
    year = f"Filled {timezone.localtime(cask.filled_at).year}" if cask.filled_at is not None else ""
    return CaskLabel(vessel.code, year, cask.place)


def lot_labels(typed: str) -> list[BarLabel]:
    """A label for each lot of that number, which several materials may share. Raises NoSuchLabel."""
    number = _scanned(typed)
    lots = list(Lot.objects.filter(key=key_of(number), first_at__isnull=False).order_by("kind"))
    if not lots:
        raise NoSuchLabel(f"There is no lot {number[:60]} in the stores. Write its receipt first.")
    return [BarLabel(one.code, _said_of(one)) for one in lots]


def _said_of(lot: Lot) -> tuple[str, ...]:
    what = ", ".join(part for part in (lot.kind.capitalize(), lot.name) if part)
    since = f"First entry {figures.day(timezone.localtime(lot.first_at).date(), year=True)}" if lot.first_at else ""
    return tuple(line for line in (what, since) if line)


def case_labels(typed: str, *, first: int, cases: int) -> list[BarLabel]:
    """Labels of so many cases of a bottled lot, from the case of a number on; each says the lot code, what is in it
    and which case it is. Raises NoSuchLabel.
    """
    number = _scanned(typed)
    if not 1 <= cases <= MOST or first < 1:
        raise NoSuchLabel(f"Labels of 1 to {MOST} cases are made at once, from case 1 on.")
    record = _bottling_of(number)
    values = json.loads(getattr(record, "standing", None) or "{}")
    strength = f"{values['label_percent']} % vol" if values.get("label_percent") else ""
    size = f"{values['bottle_centilitres']} cL" if values.get("bottle_centilitres") else ""
    bottles = f"{values['bottles_a_case']} bottles" if values.get("bottles_a_case") else ""
    said = ", ".join(part for part in (values.get("product", ""), bottles, size, strength) if part)
    code = str(values["lot_code"])
    return [BarLabel(code, (said, f"Case {place}")) for place in range(first, first + cases)]


def _bottling_of(number: str) -> Record:
    kinds = [one.kind for one in all_sheets() if one.fills_bottles and one.has_field("lot_code")]
    named = Mention.objects.filter(what=Mention.What.LOT, code__iexact=number, field="lot_code").values("record")
    there = Record.objects.filter(kind__in=kinds, pk__in=named).exclude(state=State.VOID)
    record = with_latest(there).order_by("happened_from", "pk").first()
    if record is None:
        raise NoSuchLabel(f"There is no bottled lot {number[:60]}. Type the lot code as it stands on its bottling.")
    return record


def _scanned(typed: str) -> str:
    try:
        number = number_of(typed)
    except Unscannable as refused:
        raise NoSuchLabel(str(refused)) from refused
    if not number:
        raise NoSuchLabel("No number is typed; type the number of the lot.")
    return number


def whole(typed: str, otherwise: int) -> int:
    """A whole number as typed; `otherwise` where the box is blank, -1 where it is none."""
    text = typed.strip()
    if not text:
        return otherwise
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 6 else -1


Labels = Sequence[CaskLabel] | Sequence[BarLabel]
