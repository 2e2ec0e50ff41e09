"""The picture of a cask over its years: gauges as dots, its book between them as a line, the band up to today."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.utils.safestring import SafeString

from batches.pages.places.cask_table import years_between
from distillery import charts
from distillery.clock.reading import books_now, site_day
from distillery.plant.models import Vessel
from distillery.rules.in_force import NoRuleInForce, cask_band
from distillery.rules.models import ONE
from ledger.models import Account, Gauge, RunningBalance

BAND_POINTS_A_YEAR = 2


def years_of(vessel: Vessel, account: Account | None, gauges: Sequence[Gauge], *, name: str = "years") -> SafeString:
    """The drawing, from the filling on; nothing for a cask that was never filled."""
    filled_at = vessel.cask.filled_at
    if account is None or filled_at is None:
        return SafeString("")
    since = [one for one in gauges if one.happened_at > filled_at]
    book = _book(account, filled_at, {one.happened_at for one in since})
    if not book:
        return SafeString("")
    # What was filled in was measured as it was filled, so the line begins with a dot too.
    dots = [charts.Regauge(book[0].years, book[0].value)]
    dots += [charts.Regauge(years_between(filled_at, one.happened_at), one.pure_ul / ONE) for one in since]
    now = max(books_now(), *(one.happened_at for one in since), filled_at)
    band = _band(vessel, book[0].value, filled_at, now)
    return charts.cask_chart(dots, name=name, title=f"Cask {vessel.code} over its years", book=book, band=band)


def _book(account: Account, filled_at: datetime, gauged: set[datetime]) -> list[charts.Spot]:
    """The corners of the line: at a gauge what it found, at any other change what was there before and after it."""
    running = RunningBalance.objects.filter(account=account, happened_at__gte=filled_at)
    lines = running.order_by("happened_at", "position", "leg_id").values_list("happened_at", "balance_ul")
    spots: list[charts.Spot] = []
    last: datetime | None = None
    for at, balance_ul in lines:
        years, value = years_between(filled_at, at), balance_ul / ONE
        if at == last and (at in gauged or len(spots) == 1):
            # Of one gauge, or of one filling, what it comes to in the end.
            spots[-1] = charts.Spot(years, value)
        else:
            if spots and at not in gauged:
                spots.append(charts.Spot(years, spots[-1].value))
            spots.append(charts.Spot(years, value))
        last = at
    return spots


def _band(vessel: Vessel, filled_lpa: float, filled_at: datetime, now: datetime) -> list[charts.BandPoint]:
    """What a cask of its kind is expected to hold, year by year up to a moment, counted from its filling."""
    try:
        band = cask_band(vessel.cask.warehouse, vessel.cask.kind, site_day(now))
    except NoRuleInForce:
        return []
    age = max(years_between(filled_at, now), 1.0)
    steps = max(2, round(age * BAND_POINTS_A_YEAR))
    ages = [age * step / steps for step in range(steps + 1)]
    shares = [band.yearly.left_after(years) for years in ages]
    return [
        charts.BandPoint(years, filled_lpa * left.least, filled_lpa * left.most)
        for years, left in zip(ages, shares, strict=True)
    ]
