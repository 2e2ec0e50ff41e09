"""Where casks stand by their records: brought onto the plant's rows whenever such a record is written, changed or void.

The last that was said of a cask holds, by when it happened and not by when it was written. Where nothing is said, what
the plant's own list has stands.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from django.db.models import Exists, OuterRef, Q, QuerySet

from batches.casks.said import Said, declared, said_of
from batches.models import Mention, Record, State
from batches.sheets.sheet import Sheet
from distillery.plant import keeping
from distillery.plant.models import Cask, place_said
from ledger.models import Gauge


def named_casks(sheet: Sheet, record: Record) -> set[str]:
    """The numbers of the casks of which a record says something, as it stands."""
    if sheet.of_casks is None:
        return set()
    named = Mention.objects.filter(record=record, what=Mention.What.VESSEL, field=sheet.of_casks.cask)
    return set(named.values_list("code", flat=True))


def bring_up_to_date(codes: Iterable[str]) -> None:
    """Brings these casks to where their records leave them."""
    wanted = set(codes)
    if wanted:
        keeping.note_standing({code: stands(lines) for code, lines in said_of(wanted).items()})


def stands(lines: Sequence[Said]) -> keeping.CaskStands:
    """Where a cask stands by what was said of it, oldest first."""
    place, owner, seen = _last_place(lines), "", None
    for one in lines:
        owner = one.owner or owner
        if one.seen:
            seen = one.at if one.leaks else None
    if place is None:
        return keeping.CaskStands(owner=owner or None, seen_leaking_at=seen)
    warehouse, row, tier = place
    return keeping.CaskStands(warehouse, row, tier, owner or None, seen)


def before(code: str, at: datetime, *, without: str) -> Cask | None:
    """A cask as it stood just before a moment, one record left out, with place and owner; None where there is none.

    It is not to be saved.
    """
    return before_all([code], at, without=without).get(code)


def before_all(codes: Iterable[str], at: datetime, *, without: str) -> dict[str, Cask]:
    """The same of several casks by number, in a few queries."""
    wanted = set(codes)
    said = said_of(wanted)
    found = {}
    for cask in Cask.objects.filter(vessel__code__in=wanted).select_related("vessel"):
        lines = [one for one in said[cask.vessel.code] if one.at <= at and one.record.number != without]
        place = _last_place(lines) or (cask.listed_warehouse, cask.listed_row, cask.listed_tier)
        cask.warehouse, cask.row, cask.tier = place
        cask.owner = next((one.owner for one in reversed(lines) if one.owner), cask.listed_owner)
        found[cask.vessel.code] = cask
    return found


def places_at(casks: Iterable[Cask], at: datetime) -> dict[int, str]:
    """Where each of these casks lay just before a moment, in words, by its key."""
    rows = list(casks)
    said, found = said_of(one.vessel.code for one in rows), {}
    for cask in rows:
        place = _last_place([one for one in said[cask.vessel.code] if one.at < at])
        found[cask.pk] = place_said(*(place or (cask.listed_warehouse, cask.listed_row, cask.listed_tier)))
    return found


def departures() -> QuerySet[Mention]:
    """Where records that stand name casks by which those left the site."""
    there = Q(pk__in=())
    for kind, of in declared().items():
        if of.goes:
            there |= Q(record__kind=kind, field=of.cask)
    return Mention.objects.filter(there, what=Mention.What.VESSEL).exclude(record__state=State.VOID)


def is_gone() -> Q:
    """Whether a cask left the site and was not filled since, to be asked of rows of casks."""
    left = departures().filter(code=OuterRef("vessel__code"))
    later = left.filter(record__happened_from__gte=OuterRef("filled_at"))
    return Q(Exists(left), filled_at__isnull=True) | Q(Exists(later))


def gone_by(casks: Iterable[Cask]) -> dict[int, Record]:
    """By which record each of these casks left the site and was not filled since, by the cask's key."""
    by_code = {one.vessel.code: one for one in casks}
    left = departures().filter(code__in=by_code).select_related("record").order_by("record__happened_from", "pk")
    return {
        by_code[one.code].pk: one.record
        for one in left
        if (filled := by_code[one.code].filled_at) is None or filled <= one.record.happened_from
    }


def to_regauge() -> list[Cask]:
    """Casks that were seen leaking and not gauged since, the longest first."""
    gauged = Gauge.objects.standing().filter(
        account__vessel=OuterRef("pk"), happened_at__gte=OuterRef("seen_leaking_at")
    )
    seen = Cask.objects.filter(~Exists(gauged), seen_leaking_at__isnull=False).select_related("vessel")
    return list(seen.order_by("seen_leaking_at"))


def _last_place(lines: Sequence[Said]) -> tuple[str, str, str] | None:
    return next((place for one in reversed(lines) if (place := one.place) is not None), None)
