"""A cask that is filled and not in the plant yet: asked about, then entered with the record that fills it.

Which fields of a line tell what the plant must know of a cask, the sheet declares (`Field.new_as`). A slip of the pen
in a cask's number would make a cask that there is not, so it is entered only when somebody has said that it is new.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from batches.records.asking.questions import Asked, Question, Sure, Why
from batches.sheets.declared import Field
from batches.sheets.sheet import Sheet
from batches.sheets.site import Site
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.parsing import read_number
from distillery import figures
from distillery.plant import keeping
from distillery.plant.models import MICRO, Cask, Stage, Vessel
from distillery.plant.models import Kind as VesselKind
from distillery.typed.spellings import same_number

LONGEST_CODE = 40
LONGEST_KIND = 40


@dataclass(frozen=True, slots=True)
class Unknown:
    """A cask that a line fills and the plant does not have: its number, kind, size in litres, and the line."""

    code: str
    kind: str
    litres: Decimal
    row: int


def ask_about_new_casks(sheet: Sheet, rows: Sequence[Mapping[str, str]], site: Site, *, sure: Sure) -> None:
    """Asks once whether the casks that the plant does not have are new. Raises Asked."""
    declared = _declared(sheet)
    if declared is None or sure is True:
        return
    found = unknown_casks(sheet, rows, site)
    question = _question(declared, found) if found else None
    if question is not None and question.key not in (sure or ()):
        raise Asked([question])


def enter_new_casks(sheet: Sheet, rows: Sequence[Mapping[str, str]], site: Site, *, sure: Sure) -> int:
    """Enters the casks of which somebody has said that they are new, empty, and gives how many; in the turn."""
    declared = _declared(sheet)
    if declared is None or sure is True or not sure:
        return 0
    found = unknown_casks(sheet, rows, site)
    if not found or _question(declared, found).key not in sure:
        return 0
    return keeping.add_casks(_cask(one) for one in found)


def enter_casks_of_log(records: Iterable[tuple[Sheet, Sequence[Mapping[str, str]]]]) -> int:
    """Enters the casks that a log's records bring and the plant does not have, by their lines; gives how many.

    Only where the sheet is for that: a fill that names a cask nobody numbered has a slip of the pen.
    """
    brought: dict[str, tuple[Sheet, list[Mapping[str, str]]]] = {}
    for sheet, rows in records:
        declared = _declared(sheet)
        if declared is not None and declared.new_as is not None and declared.new_as.by_log:
            brought.setdefault(sheet.kind, (sheet, []))[1].extend(rows)
    # One kind after the other, so that a cask that two of them name is entered once.
    return sum(
        keeping.add_casks(_cask(one) for one in unknown_casks(sheet, rows, Site())) for sheet, rows in brought.values()
    )


def unknown_casks(sheet: Sheet, rows: Sequence[Mapping[str, str]], site: Site) -> list[Unknown]:
    """The casks of the lines that are not in the plant and of which the line says what the plant must know."""
    declared = _declared(sheet)
    if declared is None or declared.new_as is None:
        return []
    site.look_up(row.get(declared.name, "") for row in rows)
    found: dict[str, Unknown] = {}
    for index, row in enumerate(line for line in rows if any(text.strip() for text in line.values())):
        code, kind = row.get(declared.name, "").strip(), row.get(declared.new_as.kind, "").strip()
        litres = _litres(sheet.field(declared.new_as.litres), row.get(declared.new_as.litres, ""))
        fits = 0 < len(code) <= LONGEST_CODE and 0 < len(kind) <= LONGEST_KIND and code.isprintable()
        if fits and litres and site.vessel_meant(code) is None:
            found.setdefault(same_number(code), Unknown(code.upper(), kind, litres, index))
    return list(found.values())


def _declared(sheet: Sheet) -> Field | None:
    return next((one for one in sheet.row_fields if one.new_as is not None), None)


def _litres(field: Field, typed: str) -> Decimal | None:
    try:
        litres = read_number(field, typed.strip())
    except Unreadable:
        return None
    return litres if litres > 0 else None


def _question(field: Field, found: Sequence[Unknown]) -> Question:
    named = "; ".join(f"{one.code}, {one.kind} of {figures.litres(float(one.litres))} L" for one in found)
    is_one = len(found) == 1
    sentence = f"Not in the plant yet: {named}. Is {'it a new cask' if is_one else f'each of the {len(found)} new'}?"
    said = ",".join(f"{one.code}/{one.kind}/{one.litres.normalize():f}" for one in found)
    keep = "Enter it in the plant with this sheet" if is_one else f"Enter all {len(found)} with this sheet"
    row = found[0].row if is_one else None
    return Question(field.name, Why.NEW_CASK, sentence, said, keep, row=row)


def _cask(one: Unknown) -> Cask:
    vessel = Vessel(code=one.code, name=f"Cask {one.code}", kind=VesselKind.CASK, stage=Stage.MATURING)
    return Cask(vessel=vessel, kind=one.kind, nominal_ul=int(one.litres * MICRO))
