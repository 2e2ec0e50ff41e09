"""The site as it is set up: vessels, review thresholds and duty rates with dates and sources, people.

To be read here; figures are changed by the services that keep each with its day and its source.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import Count, Max
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from distillery import figures, pages
from distillery.people.models import Person
from distillery.people.roles import PLANT_KEEPERS, needs
from distillery.plant.models import Cask, Vessel
from distillery.plant.models import Kind as VesselKind
from distillery.rules.in_force import rounding_rules
from distillery.rules.models import ONE, CaskBand, DutyRate, ReviewThreshold, UsualFigure

PER_CENT = ONE // 100
PENCE_HUNDREDTHS_A_POUND = 10_000


@needs(PLANT_KEEPERS)
def site(request: HttpRequest) -> HttpResponse:
    """All that the site has set up, on one page."""
    tables = [_vessels(), _casks(), _thresholds(), _bands(), _usual_figures(), _rates(), _roundings(), _people()]
    return render(
        request,
        "batches/site.html",
        {"area": "site", "tables": [(f"site-{number}", table) for number, table in enumerate(tables)]},
    )


def _table(
    caption: str, heads: Sequence[pages.Column | str], lines: Sequence[Sequence[str]], empty: str
) -> pages.Table:
    columns = [head if isinstance(head, pages.Column) else pages.Column(head) for head in heads]
    rows = [pages.Row([pages.Cell(text) for text in line]) for line in lines]
    return pages.Table(caption, columns, rows, empty=empty)


def _vessels() -> pages.Table:
    vessels = Vessel.objects.exclude(kind=VesselKind.CASK).annotate(
        points=Count("calibration", distinct=True), calibrated=Max("calibrations__from_day")
    )
    lines = [
        (
            one.code,
            one.name,
            one.get_kind_display(),
            one.get_stage_display(),
            one.get_purpose_display(),
            "" if one.capacity_ul is None else figures.litres_from_ul(one.capacity_ul, 0),
            figures.day(one.calibrated, year=True) if one.calibrated else "not recorded",
            figures.count(one.points),
        )
        for one in vessels
    ]
    heads = (
        "Vessel",
        "Name",
        "Kind",
        "Stage",
        "Kept for",
        pages.Column("Capacity", numeric=True, unit="L"),
        "Calibrated",
        pages.Column("Lines of its table", numeric=True),
    )
    return _table("Vessels", heads, lines, "No vessels set up. They come with the plant that is loaded.")


def _casks() -> pages.Table:
    counted = Cask.objects.values("warehouse", "kind").annotate(number=Count("pk")).order_by("warehouse", "kind")
    lines = [(one["warehouse"] or "not recorded", one["kind"], figures.count(one["number"])) for one in counted]
    return _table("Casks", ("Warehouse", "Kind", pages.Column("Casks", numeric=True)), lines, "No casks set up.")


def _thresholds() -> pages.Table:
    lines = [
        (
            one.operation.capitalize(),
            one.vessel or "any",
            figures.day(one.from_day, year=True),
            figures.percent(one.usual_millionths / PER_CENT, 2),
            figures.percent(one.threshold_millionths / PER_CENT, 2),
            figures.lpa(one.floor_ul),
            one.source,
        )
        for one in ReviewThreshold.objects.all()
    ]
    heads = (
        "Operation",
        "Vessel",
        "From",
        pages.Column("Usual loss", numeric=True, unit="% of alcohol in"),
        pages.Column("Review threshold", numeric=True, unit="% of alcohol in"),
        pages.Column("At least", numeric=True, unit="LPA"),
        "Source",
    )
    return _table("Review thresholds", heads, lines, "No review thresholds set.")


def _bands() -> pages.Table:
    lines = [
        (
            one.warehouse or "any",
            one.cask_kind or "any",
            figures.day(one.from_day, year=True),
            figures.percent(one.low_millionths_a_year / PER_CENT),
            figures.percent(one.high_millionths_a_year / PER_CENT),
            one.source,
        )
        for one in CaskBand.objects.all()
    ]
    heads = (
        "Warehouse",
        "Kind of cask",
        "From",
        pages.Column("Least", numeric=True, unit="% a year"),
        pages.Column("Most", numeric=True, unit="% a year"),
        "Source",
    )
    return _table("Expected loss in cask", heads, lines, "No bands set.")


def _usual_figures() -> pages.Table:
    lines = [
        (
            f"{one.name[:1].upper()}{one.name[1:]}",
            figures.day(one.from_day, year=True),
            "learnt" if one.expected_millionths is None else f"{one.expected_millionths / ONE:g}",
            f"{one.spread_millionths / ONE:g}",
            one.unit,
            one.source,
        )
        for one in UsualFigure.objects.all()
    ]
    heads = (
        "Figure",
        "From",
        pages.Column("Usual", numeric=True),
        pages.Column("Strays by", numeric=True),
        "Unit",
        "Source",
    )
    return _table("Usual figures, until the site's own history says better", heads, lines, "No usual figures set.")


def _rates() -> pages.Table:
    lines = [
        (
            figures.day(one.from_day, year=True),
            figures.day(one.to_day, year=True) if one.to_day else "until another begins",
            _range(one),
            figures.number(one.pence_hundredths_per_lpa / PENCE_HUNDREDTHS_A_POUND, 2),
            one.tax_type,
            one.source,
        )
        for one in DutyRate.objects.all()
    ]
    heads = (
        "From",
        "Known to",
        pages.Column("Strength", numeric=True, unit="% vol"),
        pages.Column("Rate", numeric=True, unit="£ per LPA"),
        "Tax type",
        "Source",
    )
    return _table("Duty rates", heads, lines, "No duty rates set.")


def _roundings() -> pages.Table:
    lines = [
        (
            f"{rule.name[:1].upper()}{rule.name[1:]}",
            figures.day(rule.from_date, year=True) if rule.from_date else "not dated",
            f"{rule.step:f} {rule.unit}",
            rule.mode.replace("_", " "),
            rule.source,
        )
        for rule in rounding_rules()
    ]
    heads = ("Figure", "From", pages.Column("To whole steps of", numeric=True), "Rounded", "Source")
    return _table("Roundings of the law", heads, lines, "No roundings set.")


def _range(rate: DutyRate) -> str:
    low, high = rate.strength_from_millionths / PER_CENT, rate.strength_to_millionths / PER_CENT
    return f"{figures.percent(low)} to {figures.percent(high)}"


def _people() -> pages.Table:
    people = Person.objects.prefetch_related("groups").order_by("username")
    lines = [
        (
            one.shown_name,
            one.username,
            ", ".join(sorted(group.name for group in one.groups.all())) or "none",
            "may sign on" if one.is_active else "no longer",
        )
        for one in people
    ]
    return _table("People", ("Name", "Signs on as", "Roles", "Now"), lines, "No people yet.")
