"""What is abnormal and asks for an act at once, with the act in one sentence. There are two such things and no more.

A receiver that is near full while a run is on, by estimate. And a vessel whose last gauge found more or less than its
book by more than the site's stop limit, a dated figure: until it is measured again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Final
from urllib.parse import urlencode

from django.db.models import OuterRef, Subquery
from django.urls import reverse

from batches.running.filling import Filling, fillings
from batches.running.runs import Run
from batches.running.runs_on import RunsOn
from distillery import figures
from distillery.clock.reading import site_day
from distillery.rules.in_force import usual_figure
from ledger.models import Account, AccountKind, Gauge
from ledger.posting.accounts import OPENING_STOCK
from ledger.so_far import posted_so_far
from ledger.statements.unaccounted_legs import found_by

STOP_LIMIT: Final = "stop limit of a vessel"
BEFORE: Final = "before"


@dataclass(frozen=True, slots=True)
class ActNow:
    """What is the matter, what to do about it, and the page where it is written."""

    sentence: str
    response: str
    href: str


def act_now(on: RunsOn, now: datetime) -> list[ActNow]:
    """All that asks for an act at once: receivers first, since they do not wait."""
    return [*receivers_near_full(on, on.runs, now), *vessels_beyond_limit(now)]


def receivers_near_full(on: RunsOn, runs: Sequence[Run], now: datetime) -> list[ActNow]:
    """Receivers with little room left that one of these runs, which are on, is running into."""
    return [
        _near_full(run, one)
        for run in runs
        if run.spans[-1].into
        for one in fillings(run, on.usual[run.record.pk], on.gauges, on.capacities, now)
        if one.near_full
    ]


def _near_full(run: Run, one: Filling) -> ActNow:
    held, most = figures.litres(one.litres or 0, 0), figures.litres(one.capacity_litres or 0, 0)
    href = reverse("record_running", args=[run.record.kind, run.record.number])
    change = next((event for event in run.may_come() if event.instead_of == one.field), None)
    return ActNow(
        f"{one.vessel} is near full: about {held} of {most} L by estimate, and {run.record.number} runs into it.",
        "Change receiver before it is full, and gauge both.",
        f"{href}?{urlencode({'event': change.name})}" if change is not None else href,
    )


def vessels_beyond_limit(now: datetime) -> list[ActNow]:
    """Vessels whose last gauge was beyond the stop limit; none where the site has no such limit.

    Five queries, or one where nothing was posted since they were last looked for.
    """
    limit = usual_figure(STOP_LIMIT, site_day(now))
    if limit is None or limit.expected_millionths is None:
        return []
    # Millionths of a litre are microlitres.
    return list(_beyond(limit.expected_millionths, posted_so_far()))


@lru_cache(maxsize=1)
def _beyond(most_ul: int, _posted: object) -> tuple[ActNow, ...]:
    gauges = _last_before()
    found = found_by(gauges, {gauge.movement_id for gauge in gauges})
    return tuple(_said(gauge, found[gauge.pk]) for gauge in gauges if abs(found.get(gauge.pk, 0)) > most_ul)


def _last_before() -> list[Gauge]:
    """The newest gauge of each vessel that says what it held before something was done, openings left out."""
    newest = (
        Gauge.objects.standing()
        .filter(account=OuterRef("pk"), role=BEFORE)
        .exclude(movement__operation=OPENING_STOCK)
        .order_by("-happened_at", "-position")
        .values("pk")[:1]
    )
    vessels = Account.objects.filter(kind=AccountKind.VESSEL, vessel__isnull=False, vessel__cask__isnull=True)
    keys = [key for key in vessels.annotate(newest=Subquery(newest)).values_list("newest", flat=True) if key]
    return list(Gauge.objects.filter(pk__in=keys).select_related("account__vessel", "movement"))


def _said(gauge: Gauge, found_ul: int) -> ActNow:
    code = gauge.account.vessel.code if gauge.account.vessel else gauge.account.name
    more = "more" if found_ul > 0 else "less"
    return ActNow(
        f"{code} held {figures.lpa(abs(found_ul), 1)} LPA {more} than its book when it was gauged "
        f"{figures.moment(gauge.happened_at, year=False)} ({gauge.movement.record_number}).",
        "Move nothing more from it until it is measured again; a true movement can still be written.",
        reverse("record", args=[gauge.movement.record_kind, gauge.movement.record_number]),
    )
