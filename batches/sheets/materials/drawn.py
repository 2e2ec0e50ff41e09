"""What was issued to a record, by the records that received it: the lot it names, or those its silo gave, by weight.

A figure of several lots together is weighted by mass (`distillery.process.malt.blended`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from batches.models import Record
from batches.sheets.register import sheet_of
from batches.sheets.sheet import Material, Problem
from batches.sheets.site import Site
from batches.sheets.typed.completed import Completed
from batches.stores.kinds import Act
from batches.stores.models import StockEntry
from distillery.process.malt import Portion, blended


@dataclass(frozen=True, slots=True)
class Issued:
    """A lot by the record that received it, and how much was drawn of it, grams; 1 where one lot is named alone."""

    record: Record
    grams: int


def issued_to(site: Site, record: Record, name: str) -> list[Issued]:
    """What was issued to a record by its field `name`, in the order it was drawn; nothing where nothing is said."""
    named = site.told_record(record, name)
    if named is not None:
        return [Issued(named, 1)]
    sheet = sheet_of(record.kind)
    one = next((one for one in sheet.materials if one.field == name and one.drawn_from), None)
    if one is None:
        return []
    entries = StockEntry.objects.standing().filter(version__record=record, act=Act.ISSUED, field=one.weighed)
    drawn = dict(entries.exclude(silo="").order_by("pk").values_list("lot__code", "said"))
    found = Record.objects.in_bulk(drawn, field_name="number") if drawn else {}
    return [Issued(found[code], grams) for code, grams in drawn.items() if code in found]


def by_mass(issued: list[Issued], figure: Callable[[Record], float | None]) -> float | None:
    """A figure of what was issued, weighted by mass; None without any, or where one lot does not tell it."""
    told = [(one.grams, figure(one.record)) for one in issued]
    portions = [Portion(float(grams), of_lot) for grams, of_lot in told if of_lot is not None]
    return blended(portions) if portions and len(portions) == len(told) else None


def lot_or_silo(written: Completed) -> list[Problem]:
    """Each thing issued names its lot, or the silo that it was drawn from, and not both."""
    problems = []
    for one in written.sheet.materials:
        if one.drawn_from and (said := _unclear(written, one)):
            problems.append(Problem(one.field, None, said))
    return problems


def _unclear(written: Completed, one: Material) -> str:
    lot, silo = (written.sheet.field(name).label for name in (one.field, one.drawn_from))
    if written.has(one.field) and written.has(one.drawn_from):
        return f"{lot} and {silo} are both written; write the lot, or the silo whose lots are drawn on."
    if not written.has(one.field) and not written.has(one.drawn_from):
        return f"{lot} is blank; write it, or the silo that was drawn from."
    return ""
