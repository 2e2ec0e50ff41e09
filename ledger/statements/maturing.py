"""Maturing casks against the band their age, warehouse and kind make expected, and against their warehouse.

What a cask should hold after t years lies between L0(1 - high)^t and L0(1 - low)^t, compounded, widened by two
standard uncertainties of the gauge (the site's dated band). Below it a leak is looked for. The yearly rate since the
gauge before is set beside the median of its warehouse; three times that is worth a look (common practice, no source),
and nothing is said while a warehouse has too few rates. Only casks gauged since they were filled are judged.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from distillery.clock.reading import site_day
from distillery.plant.models import MICRO, Vessel
from distillery.plant.models import Kind as VesselKind
from distillery.rules.cask_loss import yearly_loss_percent, years_between
from distillery.rules.in_force import NoRuleInForce, cask_band
from ledger.comparing.statistics.algebra.robust import median_and_spread
from ledger.models import AccountKind, Entry, Gauge, Leg

COVERAGE = 2
# Rates of a warehouse below which its median says nothing yet; common practice, no source.
FEWEST = 8
TIMES_THE_MEDIAN = 3
# Between two gauges nearer than this a rate is mostly the gauges' own doubt; common practice, no source.
SHORTEST_YEARS = 0.5


class Verdict(StrEnum):
    """What is to be said of a cask; nothing where it lies in its band."""

    USUAL = ""
    BELOW = "below its band"
    ABOVE = "above its band"
    FAST = "over three times its warehouse's median"
    NO_BAND = "no band is set"


@dataclass(frozen=True, slots=True)
class CaskWatch:
    """One cask at its last gauge: litres of pure alcohol, years since filling, yearly rates in percent."""

    vessel: Vessel
    filled_at: datetime
    filled_lpa: float
    gauged_at: datetime
    years: float
    measured_lpa: float
    two_u_lpa: float
    low_lpa: float | None
    high_lpa: float | None
    rate_percent: float | None
    median_percent: float | None
    verdict: Verdict

    @property
    def warehouse(self) -> str:
        return self.vessel.cask.warehouse

    @property
    def outside_lpa(self) -> float:
        """How far outside its widened band it lies: below is negative, inside is nothing."""
        if self.low_lpa is None or self.high_lpa is None:
            return 0.0
        below, above = self.measured_lpa - (self.low_lpa - self.two_u_lpa), self.measured_lpa - self.high_lpa
        if below < 0:
            return below
        return max(0.0, above - self.two_u_lpa)


def cask_watch(warehouse: str = "") -> list[CaskWatch]:
    """Every full cask with a gauge since it was filled, the furthest below its band first.

    Medians are those of whole warehouses whichever is asked for. Two queries, whatever the casks.
    """
    fillings, gauges = _fillings(), _gauges()
    rates: dict[int, float] = {}
    for account_id, taken in gauges.items():
        filling = fillings.get(account_id)
        if filling is not None and (rate := _rate(filling, taken)) is not None:
            rates[account_id] = rate
    by_warehouse: dict[str, list[float]] = defaultdict(list)
    for account_id, rate in rates.items():
        by_warehouse[_vessel(fillings[account_id]).cask.warehouse].append(rate)
    medians = {place: median_and_spread(values)[0] for place, values in by_warehouse.items() if len(values) >= FEWEST}
    found = []
    for account_id, taken in gauges.items():
        filling = fillings.get(account_id)
        since = [gauge for gauge in taken if filling is not None and gauge.happened_at > filling.happened_at]
        if filling is None or not since or not since[-1].pure_ul:
            continue
        place = _vessel(filling).cask.warehouse
        if warehouse and place != warehouse:
            continue
        found.append(_judged(filling, since[-1], rates.get(account_id), medians.get(place), len(by_warehouse[place])))
    return sorted(found, key=lambda one: (one.outside_lpa, one.verdict != Verdict.FAST, one.vessel.code))


def not_gauged(watched: Iterable[CaskWatch], warehouse: str = "") -> int:
    """Full casks that have not been gauged since they were filled, and so cannot be judged."""
    from ledger.models import Balance

    full = Balance.objects.filter(account__vessel__kind=VesselKind.CASK, balance_ul__gt=0)
    if warehouse:
        full = full.filter(account__vessel__cask__warehouse=warehouse)
    return max(0, full.count() - sum(1 for _ in watched))


def _fillings() -> dict[int, Leg]:
    legs = (
        Leg.objects.standing()
        .filter(
            account__kind=AccountKind.VESSEL,
            account__vessel__kind=VesselKind.CASK,
            entry=Entry.FLOW,
            pure_ul__gt=0,
        )
        .select_related("account__vessel__cask")
        .order_by("happened_at", "position", "id")
    )
    return {leg.account_id: leg for leg in legs}


def _gauges() -> dict[int, list[Gauge]]:
    found: dict[int, list[Gauge]] = defaultdict(list)
    gauges = Gauge.objects.standing().filter(account__vessel__kind=VesselKind.CASK)
    for gauge in gauges.select_related("account").order_by("happened_at", "position"):
        found[gauge.account.pk].append(gauge)
    return dict(found)


def _vessel(filling: Leg) -> Vessel:
    vessel = filling.account.vessel
    assert vessel is not None, "only vessels were asked for"
    return vessel


def _rate(filling: Leg, taken: list[Gauge]) -> float | None:
    """Yearly loss since the gauge before, or since filling, in percent, compounded."""
    since = [gauge for gauge in taken if gauge.happened_at > filling.happened_at]
    if not since or not since[-1].pure_ul:
        return None
    start = since[-2] if len(since) > 1 else filling
    years, held = years_between(start.happened_at, since[-1].happened_at), start.pure_ul
    if years < SHORTEST_YEARS or not held:
        return None
    return yearly_loss_percent(held, since[-1].pure_ul, years)


def _judged(filling: Leg, gauge: Gauge, rate: float | None, median: float | None, rates: int) -> CaskWatch:
    vessel, years = _vessel(filling), years_between(filling.happened_at, gauge.happened_at)
    filled, measured, two_u = filling.pure_ul / MICRO, gauge.pure_ul / MICRO, COVERAGE * gauge.uncertainty_ul / MICRO
    low = high = None
    try:
        band = cask_band(vessel.cask.warehouse, vessel.cask.kind, site_day(gauge.happened_at))
    except NoRuleInForce:
        verdict = Verdict.NO_BAND
    else:
        left = band.yearly.left_after(years)
        low, high = filled * left.least, filled * left.most
        verdict = Verdict.USUAL
        if measured < low - two_u:
            verdict = Verdict.BELOW
        elif measured > high + two_u:
            verdict = Verdict.ABOVE
        elif rate is not None and median is not None and rate > TIMES_THE_MEDIAN * max(median, 0.0):
            verdict = Verdict.FAST
    return CaskWatch(
        vessel=vessel,
        filled_at=filling.happened_at,
        filled_lpa=filled,
        gauged_at=gauge.happened_at,
        years=years,
        measured_lpa=measured,
        two_u_lpa=two_u,
        low_lpa=low,
        high_lpa=high,
        rate_percent=rate,
        median_percent=median,
        verdict=verdict,
    )
