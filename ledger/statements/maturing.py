"""Maturing casks against the band their age, warehouse and kind make expected, and against their warehouse.

What a cask should hold after t years lies between L0(1 - high)^t and L0(1 - low)^t, compounded, widened by two
standard uncertainties of the gauge (the site's dated band). Below it a leak is looked for. The yearly rate since the
gauge before is set beside the median of its warehouse; three times that is worth a look (common practice, no source),
and nothing is said while a warehouse has too few rates. Only casks gauged since they were filled are judged, and of
these the hundred or so gauged last: what a cask lost shows at its gauge, and the list costs the same at any size.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import NamedTuple

from django.db.models import Exists, OuterRef, Q

from distillery.clock.reading import site_day
from distillery.plant.models import MICRO
from distillery.plant.models import Kind as VesselKind
from distillery.rules.cask_loss import yearly_loss_percent, years_between
from distillery.rules.in_force import NoRuleInForce, cask_band
from distillery.rules.models import CaskBand
from ledger.comparing.statistics.algebra.robust import median_and_spread
from ledger.models import AccountKind, Balance, Entry, Gauge, Leg

COVERAGE = 2
# Rates of a warehouse below which its median says nothing yet; common practice, no source.
FEWEST = 8
TIMES_THE_MEDIAN = 3
# Between two gauges nearer than this a rate is mostly the gauges' own doubt; common practice, no source.
SHORTEST_YEARS = 0.5
# Casks looked through at a time, those gauged last.
MOST = 120
# Casks not gauged that are counted; beyond them it is said that there are more.
MOST_COUNTED = 1000


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

    code: str
    kind: str
    warehouse: str
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
    def outside_lpa(self) -> float:
        """How far outside its widened band it lies: below is negative, inside is nothing."""
        if self.low_lpa is None or self.high_lpa is None:
            return 0.0
        below, above = self.measured_lpa - (self.low_lpa - self.two_u_lpa), self.measured_lpa - self.high_lpa
        if below < 0:
            return below
        return max(0.0, above - self.two_u_lpa)


class _Filled(NamedTuple):
    """A filling that stands: when, pure microlitres, and of which cask. Read as a row, as there may be many."""

    account_id: int
    happened_at: datetime
    pure_ul: int
    code: str
    kind: str
    warehouse: str


class _Gauged(NamedTuple):
    """A gauge of a cask that stands: when, pure microlitres and their uncertainty."""

    account_id: int
    happened_at: datetime
    pure_ul: int
    uncertainty_ul: int


def cask_watch(warehouse: str = "", until: datetime | None = None, most: int = MOST) -> list[CaskWatch]:
    """The full casks gauged last, of one warehouse or any and up to a moment, the furthest below its band first.

    At most so many are looked through, by their last gauge, however many there are; the median of a warehouse is that
    of the rates among them. Three queries for the casks, and one for each band.
    """
    newest = _gauged_last(warehouse, until, most)
    fillings, gauges = _fillings(newest, until), _gauges(newest, until)
    rates: dict[int, float] = {}
    for account_id, taken in gauges.items():
        filling = fillings.get(account_id)
        if filling is not None and (rate := _rate(filling, taken)) is not None:
            rates[account_id] = rate
    by_warehouse: dict[str, list[float]] = defaultdict(list)
    for account_id, rate in rates.items():
        by_warehouse[fillings[account_id].warehouse].append(rate)
    medians = {place: median_and_spread(values)[0] for place, values in by_warehouse.items() if len(values) >= FEWEST}
    bands, found = _Bands(), []
    # The latest first, as the bands are asked for.
    for account_id, taken in sorted(gauges.items(), key=lambda one: one[1][-1].happened_at, reverse=True):
        filling = fillings.get(account_id)
        since = [gauge for gauge in taken if filling is not None and gauge.happened_at > filling.happened_at]
        if filling is None or not since or not since[-1].pure_ul:
            continue
        median = medians.get(filling.warehouse)
        found.append(_judged(filling, since[-1], rates.get(account_id), median, bands))
    return sorted(found, key=lambda one: (one.outside_lpa, one.verdict != Verdict.FAST, one.code))


def not_gauged(watched: Iterable[CaskWatch], warehouse: str = "") -> int:
    """Full casks that are not among those watched: not gauged since they were filled, where all gauged ones are.

    At most MOST_COUNTED + 1, which says that there are more: a page does not count the casks of a large site.
    """
    beside = list(watched)
    full = Balance.objects.filter(account__vessel__kind=VesselKind.CASK, balance_ul__gt=0)
    if warehouse:
        full = full.filter(account__vessel__cask__warehouse=warehouse)
    return max(0, full[: MOST_COUNTED + 1 + len(beside)].count() - len(beside))


class _Bands:
    """Bands by day, asked for from the latest day back: the one in force on a day was so on every day since it began,
    and where none is in force on a day, none was before it."""

    def __init__(self) -> None:
        self._last: dict[tuple[str, str], CaskBand | None] = {}

    def of(self, filling: _Filled, on: date) -> CaskBand | None:
        kind = (filling.warehouse, filling.kind)
        last = self._last.get(kind)
        if kind not in self._last or (last is not None and on < last.from_day):
            try:
                self._last[kind] = cask_band(*kind, on)
            except NoRuleInForce:
                self._last[kind] = None
        return self._last[kind]


def _gauged_last(warehouse: str, until: datetime | None, most: int) -> list[int]:
    """Accounts of the casks gauged last, by the standing gauge after which none of theirs stands; empty ones left out.

    Asked along the gauges in order of time, newest first, until there are enough.
    """
    standing = Gauge.objects.standing()
    if until is not None:
        standing = standing.filter(happened_at__lt=until)
    # That it is no earlier is said by itself, so that each is asked for along the gauges of its cask from there on.
    later = standing.filter(account=OuterRef("account"), happened_at__gte=OuterRef("happened_at")).filter(
        Q(happened_at__gt=OuterRef("happened_at"))
        | Q(happened_at=OuterRef("happened_at"), position__gt=OuterRef("position"))
    )
    casks = standing.filter(account__vessel__kind=VesselKind.CASK, pure_ul__gt=0)
    if warehouse:
        casks = casks.filter(account__vessel__cask__warehouse=warehouse)
    newest = casks.filter(~Exists(later)).order_by("-happened_at", "-position")
    return list(newest.values_list("account_id", flat=True)[:most])


def _fillings(accounts: Sequence[int], until: datetime | None) -> dict[int, _Filled]:
    """The last filling of each."""
    legs = Leg.objects.standing().filter(account__in=accounts, entry=Entry.FLOW, pure_ul__gt=0)
    # A sample that was put back fills no cask.
    legs = legs.exclude(other__kind=AccountKind.REMOVAL)
    if until is not None:
        legs = legs.filter(happened_at__lt=until)
    of_cask = ("account__vessel__code", "account__vessel__cask__kind", "account__vessel__cask__warehouse")
    rows = legs.order_by("happened_at", "position", "id").values_list("account_id", "happened_at", "pure_ul", *of_cask)
    return {row[0]: _Filled(*row) for row in rows}


def _gauges(accounts: Sequence[int], until: datetime | None) -> dict[int, list[_Gauged]]:
    found: dict[int, list[_Gauged]] = defaultdict(list)
    gauges = Gauge.objects.standing().filter(account__in=accounts)
    if until is not None:
        gauges = gauges.filter(happened_at__lt=until)
    for row in gauges.order_by("happened_at", "position").values_list(*_Gauged._fields):
        found[row[0]].append(_Gauged(*row))
    return dict(found)


def _rate(filling: _Filled, taken: list[_Gauged]) -> float | None:
    """Yearly loss since the gauge before, or since filling, in percent, compounded."""
    since = [gauge for gauge in taken if gauge.happened_at > filling.happened_at]
    if not since or not since[-1].pure_ul:
        return None
    start: _Gauged | _Filled = since[-2] if len(since) > 1 else filling
    years, held = years_between(start.happened_at, since[-1].happened_at), start.pure_ul
    if years < SHORTEST_YEARS or not held:
        return None
    return yearly_loss_percent(held, since[-1].pure_ul, years)


def _judged(filling: _Filled, gauge: _Gauged, rate: float | None, median: float | None, bands: _Bands) -> CaskWatch:
    years = years_between(filling.happened_at, gauge.happened_at)
    filled, measured, two_u = filling.pure_ul / MICRO, gauge.pure_ul / MICRO, COVERAGE * gauge.uncertainty_ul / MICRO
    low = high = None
    verdict = Verdict.NO_BAND
    if (band := bands.of(filling, site_day(gauge.happened_at))) is not None:
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
        code=filling.code,
        kind=filling.kind,
        warehouse=filling.warehouse,
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
