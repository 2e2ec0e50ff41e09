"""The list of casks against the band their age, warehouse and kind make expected."""

from __future__ import annotations

from typing import Any, Final

from django.urls import reverse

from distillery.figures import number
from distillery.lists.columns import DayColumn, FigureColumn, ListColumn
from distillery.lists.filters import DayFilter, HouseFilters, RowFilter
from distillery.lists.tables import HouseTable
from distillery.pages import LOOK, OUT, State
from distillery.plant.models import Cask
from ledger.statements.maturing import CaskWatch, Verdict

MARKS: Final[dict[Verdict, State]] = {
    Verdict.BELOW: OUT,
    Verdict.ABOVE: OUT,
    Verdict.FAST: LOOK,
    Verdict.NO_BAND: LOOK,
}
SAYS: Final = {
    Verdict.BELOW: "below its band: look for a leak",
    Verdict.ABOVE: "above its band: gauge again",
    Verdict.USUAL: "usual",
}
NO_BAND: Final = "none set"


def _outside(row: CaskWatch) -> str:
    if not row.outside_lpa:
        return "inside"
    return f"{number(abs(row.outside_lpa), 1)} {'missing' if row.outside_lpa < 0 else 'over'}"


class CaskWatchTable(HouseTable):
    """Casks gauged since they were filled, those furthest below their band first."""

    cask = ListColumn(
        "Cask",
        "code",
        order=("code",),
        href=lambda row: reverse("cask", args=[row.code]),
        state=lambda row: MARKS.get(row.verdict),
    )
    kind = ListColumn("Kind", "kind", order=("kind", "code"))
    warehouse = ListColumn("Warehouse", "warehouse", order=("warehouse", "code"))
    age = FigureColumn("Age", "years", places=1, unit="years", order=("years",))
    filled = FigureColumn("Filled with", "filled_lpa", places=1, unit="LPA")
    low = FigureColumn("Expected at least", "low_lpa", places=1, unit="LPA", none=NO_BAND)
    high = FigureColumn("and at most", "high_lpa", places=1, unit="LPA", none=NO_BAND)
    measured = FigureColumn("Measured", "measured_lpa", places=1, unit="LPA")
    doubt = FigureColumn("±", "two_u_lpa", places=1, unit="LPA")
    outside = ListColumn("Outside by", _outside, unit="LPA", order=("outside_lpa", "code"))
    rate = FigureColumn("Lost a year", "rate_percent", places=2, unit="%", none="too soon")
    median = FigureColumn("Median there", "median_percent", places=2, unit="%", none="too few")
    gauged = DayColumn("Gauged", "gauged_at", order=("gauged_at", "code"))
    says = ListColumn("Says", lambda row: SAYS.get(row.verdict, row.verdict.value))

    name = "casks"
    caption = "Casks gauged since they were filled"
    note = "furthest below their band first; ± is two standard uncertainties"
    nothing = "No cask has been gauged since it was filled. A regauge shows what a cask has lost."
    nothing_fits = "No casks match. Clear the filter."


def _warehouses() -> list[tuple[str, str]]:
    places = Cask.objects.exclude(warehouse="").order_by("warehouse").values_list("warehouse", flat=True).distinct()
    return [(one, one) for one in places]


class GaugedUntil(DayFilter):
    """Casks as they were gauged up to a day; a list in memory is of that day already."""

    def filter(self, rows: Any, value: Any) -> Any:
        return rows


class CaskWatchFilters(HouseFilters):
    """By warehouse, up to a day, and by what is to be said."""

    warehouse = RowFilter(label="Warehouse", read=lambda row: row.warehouse, choices=_warehouses)
    until = GaugedUntil("gauged_at", label="As gauged to", until=True)
    says = RowFilter(
        label="Says",
        read=lambda row: row.verdict.name.lower(),
        choices=lambda: [(one.name.lower(), SAYS.get(one, one.value).capitalize()) for one in Verdict],
    )
