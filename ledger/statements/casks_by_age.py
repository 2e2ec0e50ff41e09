"""Full casks by their age: what they were filled with, what their band expects of that now, and what their books hold.

Whole microlitres of pure alcohol at 20 °C. Casks are added up by the month in which they were filled, by warehouse and
by kind, so that two questions answer for any number of them; a month counts from its middle, which puts the age of a
cask at most half a month wrong. The band is the site's own, dated, compounded, and no allowance.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final

from django.db.models import CharField, Count, F, Sum
from django.db.models.functions import Cast, Substr

from distillery.clock.reading import site_day
from distillery.plant.models import Kind
from distillery.rules.cask_loss import YearlyBand, years_between
from distillery.rules.in_force import NoRuleInForce, cask_band
from ledger.models import Balance, Entry, Leg

# As much of a written time as says the month: 2027-03.
MONTH_LETTERS: Final = 7
MIDDLE_DAY: Final = 16


@dataclass(slots=True)
class AgeLine:
    """Casks so many whole years old. `least_ul` and `most_ul` are None where no band is set for some of them."""

    years: int
    casks: int = 0
    filled_ul: int = 0
    held_ul: int = 0
    least_ul: float | None = 0.0
    most_ul: float | None = 0.0


def casks_by_age(now: datetime) -> list[AgeLine]:
    """A line for each whole year of age from the youngest full cask to the oldest. Two queries, and the bands."""
    of_cask = ("account__vessel__cask__warehouse", "account__vessel__cask__kind")
    held = (
        Balance.objects.filter(
            account__vessel__kind=Kind.CASK, account__vessel__cask__filled_at__isnull=False, balance_ul__gt=0
        )
        .annotate(month=_month("account__vessel__cask__filled_at"))
        .values_list("month", *of_cask)
        .annotate(Count("pk"), Sum("balance_ul"))
        .order_by()
    )
    filled = (
        Leg.objects.filter(
            account__vessel__kind=Kind.CASK,
            account__balance__balance_ul__gt=0,
            happened_at=F("account__vessel__cask__filled_at"),
            entry=Entry.FLOW,
        )
        .annotate(month=_month("account__vessel__cask__filled_at"))
        .values_list("month", *of_cask)
        .annotate(Sum("pure_ul"))
        .order_by()
    )
    filled_with = {(month, place, kind): pure_ul for month, place, kind, pure_ul in filled}
    lines: dict[int, AgeLine] = {}
    bands: dict[tuple[str, str], YearlyBand | None] = {}
    for month, place, kind, casks, held_ul in held:
        age = max(0.0, years_between(_middle(month), now))
        line = lines.setdefault(int(age), AgeLine(int(age)))
        line.casks += casks
        line.held_ul += held_ul
        filled_ul = filled_with.get((month, place, kind), 0)
        line.filled_ul += filled_ul
        if (place, kind) not in bands:
            bands[place, kind] = _band(place, kind, now)
        _expect(line, bands[place, kind], filled_ul, age)
    return [lines.get(years, AgeLine(years)) for years in range(max(lines, default=-1) + 1)]


def _expect(line: AgeLine, band: YearlyBand | None, filled_ul: int, age: float) -> None:
    if band is None or line.least_ul is None or line.most_ul is None:
        line.least_ul = line.most_ul = None
        return
    left = band.left_after(age)
    line.least_ul += filled_ul * left.least
    line.most_ul += filled_ul * left.most


def _band(place: str, kind: str, now: datetime) -> YearlyBand | None:
    try:
        return cask_band(place, kind, site_day(now)).yearly
    except NoRuleInForce:
        return None


def _month(name: str) -> Any:
    """The month of a time as both engines write it, in UTC."""
    return Substr(Cast(name, CharField()), 1, MONTH_LETTERS)


def _middle(month: str) -> datetime:
    year, _, number = month.partition("-")
    return datetime(int(year), int(number), MIDDLE_DAY, tzinfo=UTC)
