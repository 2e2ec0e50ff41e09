"""How vessels stand to their cleaning: done, or due since when, by its records and what passed through since.

How often a kind of vessel is cleaned is a usual figure of the site in days ('time between cleanings, washback'); 0 days
is after each emptying. A vessel of which no cleaning was ever written says nothing: the site does not write it here.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Final, NamedTuple

from django.db.models import F, OuterRef, Subquery

from batches.models import Mention, Record, State
from batches.sheets.register import all_sheets
from batches.sheets.site import Site
from distillery import figures
from distillery.clock.reading import site_day
from distillery.plant.models import Vessel
from distillery.rules.in_force import usual_figure
from ledger.models import Account, Entry, Leg
from ledger.statements.balances import Holding
from ledger.statements.cleaned import Cleaning

# What the site's own figure of it is called, with the kind of vessel after it, in days.
BETWEEN_CLEANINGS: Final = "time between cleanings"


class Cleaned(NamedTuple):
    """The last cleaning of a vessel that has ended: its record, when it ended, whether it left the vessel clean."""

    record: Record
    at: datetime
    is_clean: bool


def cleanings_told(holdings: Iterable[Holding], now: datetime) -> dict[str, Cleaning]:
    """How vessels stand to their cleaning, by code; four queries however long the history."""
    vessels = {one.account.vessel.code: one for one in holdings if one.account.vessel is not None}
    last = _last_cleanings(vessels)
    used = _last_used(vessels[code].account.pk for code in last)
    found = {}
    for code, one in last.items():
        holding = vessels[code]
        vessel = holding.account.vessel
        assert vessel is not None
        since = _due_since(vessel, one, used.get(holding.account.pk), holding.pure_ul > 0, now)
        found[code] = Cleaning(_said(one, since, now), since, one.record.kind, one.record.number)
    return found


def _due_since(vessel: Vessel, last: Cleaned, used: datetime | None, holds: bool, now: datetime) -> datetime | None:
    if not last.is_clean:
        return last.at
    usual = usual_figure(f"{BETWEEN_CLEANINGS}, {vessel.kind}", site_day(now))
    if usual is None or usual.expected is None:
        return None
    every = timedelta(days=usual.expected)
    if every:
        return last.at + every if last.at + every <= now else None
    return used if used is not None and used > last.at and not holds else None


def _said(last: Cleaned, due_since: datetime | None, now: datetime) -> str:
    def when(at: datetime) -> str:
        return figures.moment(at, year=site_day(at).year != site_day(now).year)

    done = f"cleaned {when(last.at)}"
    if not last.is_clean:
        return f"not clean after {last.record.number}"
    return f"to be cleaned since {when(due_since)}, {done}" if due_since is not None else done


def _last_cleanings(codes: Iterable[str]) -> dict[str, Cleaned]:
    """The newest cleaning of each vessel that has ended, by code."""
    kinds = {sheet.kind: sheet.cleans for sheet in all_sheets() if sheet.cleans is not None}
    newest = (
        Record.objects.filter(
            kind__in=kinds,
            state=State.COMPLETE,
            mentions__what=Mention.What.VESSEL,
            mentions__code=OuterRef("code"),
        )
        .order_by(F("happened_to").desc(nulls_last=True), "-pk")
        .values("pk")[:1]
    )
    of_vessel = dict(
        Vessel.objects.filter(code__in=list(codes)).annotate(newest=Subquery(newest)).values_list("code", "newest")
    )
    records = Record.objects.in_bulk([pk for pk in of_vessel.values() if pk is not None])
    site = Site()
    site.read_typed(records.values())
    found = {}
    for code, pk in of_vessel.items():
        if pk is None:
            continue
        record = records[pk]
        cleans = kinds[record.kind]
        assert cleans is not None
        is_clean = site.typed_of(record).get(cleans.found, "") == cleans.clean
        found[code] = Cleaned(record, record.happened_to or record.happened_from, is_clean)
    return found


def _last_used(accounts: Iterable[int]) -> dict[int, datetime]:
    """When something last came into or left accounts, by their keys."""
    newest = (
        Leg.objects.filter(account=OuterRef("pk"), entry=Entry.FLOW)
        .order_by("-happened_at", "-position", "-pk")
        .values("happened_at")[:1]
    )
    rows = Account.objects.filter(pk__in=list(accounts)).annotate(used=Subquery(newest)).values_list("pk", "used")
    return {pk: used for pk, used in rows if used is not None}
