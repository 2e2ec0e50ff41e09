"""What is asked before a gauge is written that lies far from the book of its vessel.

A vessel is gauged before anything is done with it, and its book says what should be there. Asked is where the gauge and
the book lie far apart, with the dip ten times or a tenth of what was typed as the answer where that meets the book. How
far apart is common practice, no source: more than a quarter of the larger, and ten litres of pure alcohol.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from batches.records.asking.questions import Question, Why, with_unit
from batches.sheets.declared import Role
from batches.sheets.gauges import By, Gauge
from batches.sheets.sheet import Moment
from batches.sheets.typed.parsing import plain
from batches.sheets.typed.read_sheet import Filled
from batches.sheets.typed.values import Ungaugeable
from distillery import figures
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.database.fixed_sql import LAST
from distillery.plant.calibration import DipOutsideTable
from distillery.plant.models import MICRO
from ledger.models import Account, Movement
from ledger.periods.places import open_books_at
from ledger.posting.gauging import ReadingMissing, Readings, measure
from ledger.posting.legs import PLACES

FAR_SHARE: Final = 0.25
FAR_UL: Final = 10 * MICRO
# A dip that was meant brings the gauge within this share of the book.
NEAR_SHARE: Final = 0.05


@dataclass(frozen=True, slots=True)
class _Gauged:
    """A gauge taken before anything was done with its vessel: the readings, and what they come to in microlitres."""

    gauge: Gauge
    readings: Readings
    pure_ul: int


def questions_about_books(filled: Filled, before: Mapping[str, str], but: Collection[str] = ()) -> Iterator[Question]:
    """The questions about gauges that are new or changed since `before` and lie far from the books of their vessels.

    Left out are gauges with a field among `but`.
    """
    gauged = {
        vessel: one
        for vessel, one in _gauged(filled, before).items()
        if not {field.name for field in one.gauge.fields} & set(but)
    }
    if not gauged:
        return
    books = _books(filled, gauged)
    for one in gauged.values():
        book = books.get(one.gauge.vessel)
        if book is None or not _far(one.pure_ul, book):
            continue
        yield _question(filled, one, book)


def _gauged(filled: Filled, before: Mapping[str, str]) -> dict[str, _Gauged]:
    """The first gauge of each vessel field, dipped before the step, whose moment is said to have happened."""
    sheet, completed = filled.completed.sheet, filled.completed
    found: dict[str, _Gauged] = {}
    met: set[str] = set()
    for declared in sheet.gauges:
        vessel = declared.vessel
        if declared.role != Role.BEFORE or vessel in met or not completed.has(declared.fields[0].name):
            continue
        met.add(vessel)
        gauge = completed.gauge(declared.prefix)
        moment = sheet.moment_of(declared.fields[0].name)
        changed = any(filled.typed.get(one.name) != before.get(one.name) for one in declared.fields)
        if gauge.by != By.SPIRIT_DIP or moment not in filled.claimed or not changed:
            continue
        try:
            readings, chain = completed.measured(declared.prefix)
        except Ungaugeable:
            continue  # said when the sheet was read
        found[vessel] = _Gauged(gauge, readings, chain.quantity.pure_ul)
    return found


def _books(filled: Filled, gauged: Mapping[str, _Gauged]) -> dict[str, int]:
    """What the book of each gauged vessel holds just before its gauge, microlitres; vessels without a book left out."""
    completed, sheet = filled.completed, filled.completed.sheet
    of_vessel = {completed.vessel(name).pk: name for name in gauged}
    accounts = dict(Account.objects.filter(vessel_id__in=of_vessel).values_list("pk", "vessel_id"))
    books: dict[str, int] = {}
    moments = {sheet.moment_of(one.gauge.fields[0].name) for one in gauged.values()}
    for moment in moments:
        here = {
            pk: of_vessel[vessel]
            for pk, vessel in accounts.items()
            if sheet.moment_of(gauged[of_vessel[vessel]].gauge.fields[0].name) == moment
        }
        before = _place_before(filled, moment)
        for pk, (pure_ul, _mass_g) in open_books_at(list(here), completed.moment(moment.when), before).items():
            books[here[pk]] = pure_ul
    return books


def _place_before(filled: Filled, moment: Moment) -> int:
    """The place just before a moment of this record among what happened at its minute: after all that is written of
    it, unless the moment is in the books already, where it keeps its slot.
    """
    number = filled.completed.number
    of_moment = Movement.objects.filter(
        record_kind=filled.completed.sheet.kind, record_number=number, moment=moment.name
    )
    slot = of_moment.order_by("pk").values_list("slot", flat=True).last() if number else None
    return LAST if slot is None else slot * PLACES - 1


def _far(one_ul: int, other_ul: int) -> bool:
    apart = abs(one_ul - other_ul)
    return apart > FAR_UL and apart > FAR_SHARE * max(one_ul, other_ul)


def _question(filled: Filled, one: _Gauged, book_ul: int) -> Question:
    name = one.gauge.name("dip_mm")
    typed, field = filled.typed[name], filled.completed.sheet.field(name)
    vessel = filled.completed.vessel(one.gauge.vessel).code
    sentence = (
        f"{one.gauge.label}: this gauge says {figures.lpa(one.pure_ul)} LPA in {vessel}, its book "
        f"{figures.lpa(book_ul)}. Is the gauge right?"
    )
    meant = _meant(filled, one, book_ul)
    if meant is not None:
        sentence = f"{sentence[: -len('Is the gauge right?')]}Did you mean {meant} mm? You typed {typed}."
    instead = f"It was {with_unit(field, meant)}" if meant else ""
    remark = f"Far from the book when it was written: {figures.lpa(one.pure_ul)} LPA by gauge."
    return Question(name, Why.BOOK, sentence, typed, f"Keep {with_unit(field, typed)}", meant or "", instead, remark)


def _meant(filled: Filled, one: _Gauged, book_ul: int) -> str | None:
    """The dip ten times or a tenth of what was typed, where that brings the gauge near to the book."""
    dip = filled.completed.decimal(one.gauge.name("dip_mm"))
    for other in (dip * 10, dip / Decimal(10)):
        readings = one.readings.with_value("dip_mm", float(other))
        try:
            pure_ul = measure(readings, filled.completed.site).quantity.pure_ul
        except (ReadingMissing, DipOutsideTable, AlcoholometryError):
            continue
        if book_ul and abs(pure_ul - book_ul) <= NEAR_SHARE * book_ul:
            return plain(other.normalize())
    return None
