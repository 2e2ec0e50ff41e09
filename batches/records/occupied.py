"""A vessel that is taken: while it holds one record, from the first moment of that to the last, it can hold no other.

Which vessel that is, the sheet says (`Sheet.occupies`).
"""

from __future__ import annotations

from datetime import datetime

from django.db.models import F, Q

from batches.models import Mention, Record, State
from batches.sheets.register import all_sheets, sheet_of
from batches.sheets.sheet import Problem, Sheet
from batches.sheets.typed.read_sheet import Filled, Unfit
from distillery import figures
from distillery.plant.models import Vessel


def leave_occupied_alone(sheet: Sheet, number: str, filled: Filled, *, ends: datetime | None = None) -> None:
    """Raises Unfit where the vessel that a record occupies holds another at the same time.

    `ends` is when it ended where that is known and not written on it yet.
    """
    if not sheet.occupies:
        return
    completed, last = filled.completed, sheet.moments[-1]
    vessel, start = completed.vessel(sheet.occupies), completed.moment(sheet.moments[0].when)
    end = completed.moment(last.when) if last in filled.claimed else ends
    other = _other_in(vessel, start, end, number)
    if other is not None:
        open_before = other.happened_to is None and other.state == State.OPEN and other.happened_from <= start
        number_in_the_way = other.number if open_before else ""
        raise Unfit([Problem(sheet.occupies, None, _said(vessel, other, sheet, end), number_in_the_way)])


def _other_in(vessel: Vessel, start: datetime, end: datetime | None, number: str) -> Record | None:
    """The first other record that holds a vessel between two moments; what has not ended goes on."""
    occupying = Q(pk__in=())
    for sheet in all_sheets():
        if sheet.occupies:
            occupying |= Q(kind=sheet.kind, mentions__field=sheet.occupies)
    there = Record.objects.filter(
        occupying,
        Q(happened_to=None) | Q(happened_to__gt=start),
        # One that begins and ends in the same minute leaves room on either side.
        Q(happened_to=None) | Q(happened_to__gt=F("happened_from")),
        mentions__what=Mention.What.VESSEL,
        mentions__code=vessel.code,
    )
    if end is not None:
        there = there.filter(happened_from__lt=end)
    return there.exclude(state=State.VOID).exclude(number=number).order_by("happened_from", "pk").first()


def _said(vessel: Vessel, other: Record, sheet: Sheet, end: datetime | None) -> str:
    """What is wrong, and what to do about it."""
    holds = f"{vessel.code} holds {sheet_of(other.kind).title.lower()} {other.number}"
    since = figures.moment(other.happened_from, year=True)
    if other.happened_to is None:
        return f"{holds}, which began {since} and has not ended. Complete {other.number} first, or choose another."
    meanwhile = f"{holds} from {since} to {figures.moment(other.happened_to, year=True)}"
    if end is None and sheet.moments[-1] is not sheet.moments[0]:
        when = sheet.field(sheet.moments[-1].when).label.lower()
        return f"{meanwhile}, and this has no end yet. Write {when} too, check the times of both, or choose another."
    return f"{meanwhile}, at the same time as this. Check the times of both, or choose another."
