"""Which washbacks hold work that is not declared yet, now or at a moment (`Sheet.works_in`), and which movements work
all that a vessel holds, as their sheets say it.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.db.models import OuterRef, Q, Subquery

from batches.models import Mention, Record, State
from batches.sheets.register import all_sheets, sheet_of, telling
from batches.sheets.site import Site
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.parsing import read_number
from distillery.clock.reading import books_now
from distillery.plant.models import Kind, Vessel
from ledger.models import Movement
from ledger.statements.at_work import AtWork


def washbacks_at_work(before: datetime | None = None, vessel: int | None = None) -> dict[int, AtWork]:
    """What washbacks hold now, or held just before a moment, whose alcohol is not in the books, by the vessel's key.

    Of one vessel alone where its key is given. Times are those that the records have by now, put right where they were
    wrong.
    """
    began = Q(happened_from__lte=books_now()) if before is None else Q(happened_from__lt=before)
    into = Q(pk__in=())
    for sheet in all_sheets():
        if sheet.works_in is not None:
            into |= Q(kind=sheet.kind, mentions__field=sheet.works_in.vessel)
    newest = (
        Record.objects.filter(into, began, mentions__what=Mention.What.VESSEL, mentions__code=OuterRef("code"))
        .exclude(state=State.VOID)
        .order_by("-happened_from", "-pk")
        .values("pk")[:1]
    )
    washbacks = Vessel.objects.filter(kind=Kind.WASHBACK)
    if vessel is not None:
        washbacks = washbacks.filter(pk=vessel)
    last = dict(washbacks.annotate(last=Subquery(newest)).values_list("pk", "last"))
    records = Record.objects.in_bulk([pk for pk in last.values() if pk is not None])
    site = Site()
    held = {washback: records[pk] for washback, pk in last.items() if pk is not None}
    return {washback: _at_work(record, site) for washback, record in held.items() if not _is_declared(record, before)}


def _is_declared(record: Record, before: datetime | None) -> bool:
    if not sheet_of(record.kind).declares or record.happened_to is None:
        return False
    return before is None or record.happened_to < before


def _at_work(record: Record, site: Site) -> AtWork:
    works = sheet_of(record.kind).works_in
    return AtWork(record.kind, record.number, works.said if works else "", _litres(record, site), record.happened_from)


def _litres(record: Record, site: Site) -> float | None:
    """How much went in, where the record or one that it names says so."""
    works = sheet_of(record.kind).works_in
    if works is None or not works.litres:
        return None
    holds: Record | None = record
    for name in works.litres[:-1]:
        holds = site.told_record(holds, name) if holds is not None else None
    if holds is None:
        return None
    name = works.litres[-1]
    try:
        return float(read_number(telling(holds.kind, name), site.told(holds, name)))
    except Unreadable:
        return None


def works_all(movements: Mapping[int, str]) -> set[int]:
    """Which of some movements, with the kinds of their records, work all that a vessel holds. One question where some
    do so only by what they are judged against, which is sealed with them: what was posted before the books said so of
    that step stays as it was followed then.
    """
    always = {sheet.kind for sheet in all_sheets() if sheet.works_contents}
    sometimes = {sheet.kind: sheet.works_judged for sheet in all_sheets() if sheet.works_judged}
    asked = [pk for pk, kind in movements.items() if kind in sometimes]
    judged = Movement.objects.filter(pk__in=asked).values_list("pk", "record_kind", "judged_against") if asked else ()
    found = {pk for pk, kind in movements.items() if kind in always}
    return found | {pk for pk, kind, against in judged if against == sometimes[kind]}
