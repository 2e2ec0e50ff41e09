"""The lists of the site as it is set up: review thresholds, bands, usual figures, duty rates, roundings of the law."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.urls import reverse
from django.utils.text import capfirst

from distillery import figures
from distillery.lists.columns import DayColumn, FigureColumn, ListColumn, LitresColumn, LpaColumn, WholeColumn
from distillery.lists.tables import HouseTable
from distillery.rules.models import ONE, DutyRate, NameRequirement
from distillery.rules.setting.entering import by_whom, entered

PER_CENT = ONE // 100
PENCE_HUNDREDTHS_A_POUND = 10_000


class PerCentColumn(WholeColumn):
    """Percent from millionths of the whole."""

    of, places = PER_CENT, 2


class MillilitresColumn(WholeColumn):
    """Millilitres from whole microlitres."""

    of, places, unit = 1000, 1, "mL"


class ThresholdTable(HouseTable):
    """From which size on the difference of an operation is looked into."""

    operation = ListColumn("Operation", lambda row: capfirst(row.operation), order=("operation", "vessel", "from_day"))
    vessel = ListColumn("Vessel", "vessel", none="any")
    since = DayColumn("From", "from_day", order=("from_day", "pk"))
    usual = PerCentColumn("Usual loss", "usual_millionths", unit="% of alcohol in")
    threshold = PerCentColumn("Review threshold", "threshold_millionths", unit="% of alcohol in")
    floor = LpaColumn("At least", "floor_ul")
    source = ListColumn("Source", "source")

    name, caption = "thresholds", "Review thresholds"
    nothing = "No review thresholds set: nothing is looked into. Set the first under Review thresholds."

    class Meta(HouseTable.Meta):
        order_by = ("operation",)


class BandTable(HouseTable):
    """What a cask is expected to lose a year."""

    warehouse = ListColumn("Warehouse", "warehouse", none="any", order=("warehouse", "cask_kind", "from_day"))
    kind = ListColumn("Kind of cask", "cask_kind", none="any")
    since = DayColumn("From", "from_day", order=("from_day", "pk"))
    low = PerCentColumn("Least", "low_millionths_a_year", places=1, unit="% a year")
    high = PerCentColumn("Most", "high_millionths_a_year", places=1, unit="% a year")
    source = ListColumn("Source", "source")

    name, caption = "bands", "Expected loss in cask"
    nothing = "No bands set, so no cask is judged by its age. Set the first under Expected loss in cask."

    class Meta(HouseTable.Meta):
        order_by = ("since",)


class UsualFigureTable(HouseTable):
    """What figures of operations usually are."""

    figure = ListColumn("Figure", lambda row: capfirst(row.name), order=("name", "from_day"))
    since = DayColumn("From", "from_day", order=("from_day", "pk"))
    usual = ListColumn(
        "Usual",
        lambda row: None if row.expected is None else f"{row.expected:g}",
        none="learnt",
    )
    strays = ListColumn("Strays by", lambda row: f"{row.spread_millionths / ONE:g}")
    unit_of = ListColumn("Unit", "unit")
    source = ListColumn("Source", "source")

    name, caption = "usual", "Usual figures, until the site's own history says better"
    nothing = "No usual figures set: the site's own history says what is usual once there is enough of it."

    class Meta(HouseTable.Meta):
        order_by = ("figure",)


def _range(rate: DutyRate) -> str:
    low, high = rate.strength_from_millionths / PER_CENT, rate.strength_to_millionths / PER_CENT
    return f"{figures.percent(low)} to {figures.percent(high)}"


class PoundsPerLpaColumn(WholeColumn):
    """Pounds for each litre of pure alcohol from hundredths of a penny."""

    of, places, unit = PENCE_HUNDREDTHS_A_POUND, 2, "£ per LPA"


class RateTable(HouseTable):
    """Duty rates with the days they are known for, and who entered each, when and why."""

    since = DayColumn("From", "from_day", order=("from_day", "strength_from_millionths", "pk"))
    until = DayColumn("Known to", "to_day", none="until another begins")
    strength = ListColumn("Strength", _range, unit="% vol")
    rate = PoundsPerLpaColumn("Rate", "pence_hundredths_per_lpa")
    tax_type = ListColumn("Tax type", "tax_type")
    source = ListColumn("Source", "source")
    by = ListColumn("Entered by", lambda row: by_whom(row.entered))
    when = DayColumn("Entered on", lambda row: row.entered.entered_at if row.entered else None)
    reason = ListColumn("Why", lambda row: row.entered.reason if row.entered else "", none="not said")

    name, caption = "rates", "Duty rates"
    nothing = "No duty rates set, so no duty is worked out. Enter the first above, with its source."

    class Meta(HouseTable.Meta):
        order_by = ("since",)

    def prepare(self, rows: Sequence[Any]) -> None:
        known = entered(rows)
        for row in rows:
            row.entered = known.get(row.pk)


class RoundingTable(HouseTable):
    """How official figures are rounded."""

    figure = ListColumn("Figure", lambda row: capfirst(row.name))
    since = DayColumn("From", "from_date", none="not dated")
    step = ListColumn("To whole steps of", lambda row: f"{row.step:f} {row.unit}")
    rounded = ListColumn("Rounded", lambda row: row.mode.replace("_", " "))
    source = ListColumn("Source", "source")

    name, caption = "roundings", "Roundings of the law"
    nothing = "No roundings set. Enter the first above, with its source."


def _asked(row: NameRequirement) -> str:
    """'at least 37.5 % vol', 'is agricultural'."""
    if row.limit_millionths is None:
        return f"{row.way} {row.words.replace('|', ' or ')}".strip()
    return f"{row.way} {row.limit_millionths / ONE:g} {row.unit}".strip()


class NameTable(HouseTable):
    """What the law asks of a spirit that bears a name."""

    named = ListColumn("Name", lambda row: capfirst(row.name), order=("name", "code", "from_day", "pk"))
    code = ListColumn("Requirement", "code")
    said = ListColumn("What is asked", lambda row: capfirst(row.said))
    limit = ListColumn("Held to", _asked)
    since = DayColumn("From", "from_day", order=("from_day", "pk"))
    source = ListColumn("Source", "source")

    name, caption = "names", "What names need"
    nothing = "No requirements of names set: no name is checked. Set the first under What names need."

    class Meta(HouseTable.Meta):
        order_by = ("named",)


class PackageErrorTable(HouseTable):
    """What may be missing of one package by its nominal quantity."""

    smallest = MillilitresColumn("Nominal quantity from", "nominal_from_ul", places=0)
    largest = MillilitresColumn("Nominal quantity to", "nominal_to_ul", places=0, none="without end")
    share = PerCentColumn("Tolerable negative error", "share_millionths", places=1, unit="% of it", none="by volume")
    volume = MillilitresColumn("Or by volume", "error_ul", none="as a share")
    since = DayColumn("From", "from_day", order=("from_day", "nominal_from_ul", "pk"))
    source = ListColumn("Source", "source")

    name, caption = "packages", "What may be missing of one package"
    nothing = "No tolerable negative errors set: no packers' rule is checked."

    class Meta(HouseTable.Meta):
        order_by = ("since",)


class NominalQuantityTable(HouseTable):
    """Sizes of bottle in which spirits may be sold."""

    smallest = MillilitresColumn("Size from", "from_ul", places=0)
    largest = MillilitresColumn("Size to", "to_ul", places=0, none="without end")
    rule = ListColumn("What holds", lambda row: capfirst(row.rule))
    since = DayColumn("From", "from_day", order=("from_day", "pk"))
    source = ListColumn("Source", "source")

    name, caption = "sizes", "Sizes of bottle for spirits"
    nothing = "No sizes set: no size of bottle is checked."

    class Meta(HouseTable.Meta):
        order_by = ("since",)


class ReportingTable(HouseTable):
    """What has to be reported of an operation."""

    operation = ListColumn("Operation", lambda row: capfirst(row.operation), order=("operation", "pk"))
    occasion = ListColumn("When", "occasion")
    said = ListColumn("What is reported", "said")
    by_whom = ListColumn("By whom", "by_whom")
    until = ListColumn("Until", "until")
    since = DayColumn("From", "from_day", order=("from_day", "pk"))
    source = ListColumn("Source", "source")

    name, caption = "reporting", "What has to be reported"
    nothing = "Nothing to be reported is set."

    class Meta(HouseTable.Meta):
        order_by = ("operation",)


class VesselTable(HouseTable):
    """Vessels but the casks, as they are set up."""

    code = ListColumn("Vessel", "code", order=("code",))
    named = ListColumn("Name", "name")
    kind = ListColumn("Kind", lambda row: row.get_kind_display())
    stage = ListColumn("Stage", lambda row: row.get_stage_display())
    purpose = ListColumn("Kept for", lambda row: row.get_purpose_display())
    capacity = LitresColumn("Capacity", "capacity_ul", places=0, unit="L")
    calibrated = DayColumn("Calibrated", "calibrated", none="not recorded")
    points = FigureColumn("Lines of its table", "points")

    name, caption = "vessels", "Vessels"
    nothing = "No vessels set up. Add the first under Plant, or load the tables of the plant."

    class Meta(HouseTable.Meta):
        order_by = ("code",)


class CountedCasksTable(HouseTable):
    """How many casks of a kind stand in each warehouse."""

    warehouse = ListColumn("Warehouse", lambda row: row["warehouse"], none="not recorded")
    kind = ListColumn("Kind", lambda row: row["kind"])
    casks = FigureColumn("Casks", lambda row: row["number"])

    name, caption = "counted-casks", "Casks"
    nothing = "No casks set up. They come with the plant that is loaded."
    adds_up = True

    def totals(self, rows: Any) -> dict[str, int]:
        numbers = [row["number"] for row in rows]
        return {"casks": sum(numbers)} if numbers else {}


class PeopleTable(HouseTable):
    """People and their roles."""

    person = ListColumn("Name", "shown_name", href=lambda row: reverse("person", args=[row.username]))
    username = ListColumn("Signs on as", "username", order=("username",))
    roles = ListColumn("Roles", lambda row: ", ".join(sorted(one.name for one in row.groups.all())), none="none")
    state = ListColumn("Now", lambda row: "may sign on" if row.is_active else "no longer")

    name, caption = "people", "People"
    nothing = "No people yet. Make the first with the command person, the others here."

    class Meta(HouseTable.Meta):
        order_by = ("username",)
