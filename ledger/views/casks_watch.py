"""Casks against their expected band, on a page, as text and on paper; those furthest below it first."""

from __future__ import annotations

import csv
from io import StringIO

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from distillery import tables_out
from distillery.clock.reading import books_today
from distillery.figures import PLAIN, SIGNED, day, number
from distillery.pages import LOOK, OUT, Cell, Column, Row, State, Table
from distillery.people.models import Person
from distillery.plant.models import Cask
from distillery.printing import cask_watch as paper
from distillery.printing.house import impression, site
from ledger.statements.maturing import FEWEST, TIMES_THE_MEDIAN, CaskWatch, Verdict, cask_watch, not_gauged

TOO_FEW = "too few"
NO_BAND = "none set"
MARKS: dict[Verdict, State] = {
    Verdict.BELOW: OUT,
    Verdict.ABOVE: OUT,
    Verdict.FAST: LOOK,
    Verdict.NO_BAND: LOOK,
}
CSV_COLUMNS = (
    "cask",
    "kind",
    "warehouse",
    "filled_at",
    "gauged_at",
    "years",
    "filled_lpa",
    "band_low_lpa",
    "band_high_lpa",
    "measured_lpa",
    "two_standard_uncertainties_lpa",
    "outside_lpa",
    "percent_a_year",
    "warehouse_median_percent_a_year",
    "verdict",
)


def casks_expected(request: HttpRequest) -> HttpResponse:
    """The page; `?warehouse=1A` for one warehouse, `?as=csv` and `?as=pdf` for the same on text and paper."""
    place = request.GET.get("warehouse", "")
    watched = cask_watch(place)
    if request.GET.get("as") == "csv":
        return _file(_csv(watched), "text/csv; charset=utf-8", "casks-and-bands.csv")
    if request.GET.get("as") == "pdf":
        assert isinstance(request.user, Person)
        printed = paper.cask_watch_pdf(
            paper.CaskWatchSheet(site(), books_today(), place, tuple(_printed(one) for one in watched)),
            impression(timezone.now(), request.user.shown_name),
        )
        return _file(printed, "application/pdf", "casks-and-bands.pdf")
    return render(
        request,
        "ledger/casks_expected.html",
        {
            "area": "warehouse",
            "table": _table(watched),
            "place": place,
            "places": list(
                Cask.objects.exclude(warehouse="").order_by("warehouse").values_list("warehouse", flat=True).distinct()
            ),
            "not_gauged": not_gauged(watched, place),
            "fewest": FEWEST,
            "times": TIMES_THE_MEDIAN,
        },
    )


def _file(body: str | bytes, kind: str, name: str) -> HttpResponse:
    answer = HttpResponse(body, content_type=kind)
    answer["Content-Disposition"] = f'{"attachment" if kind.startswith("text") else "inline"}; filename="{name}"'
    return answer


def _table(watched: list[CaskWatch]) -> Table:
    return Table(
        caption="Casks gauged since they were filled",
        note="furthest below their band first; litres of pure alcohol, ± two standard uncertainties",
        columns=(
            Column("Cask"),
            Column("Says"),
            Column("Warehouse"),
            Column("Kind"),
            Column("Age", numeric=True, unit="years"),
            Column("Filled with", numeric=True),
            Column("Expected", numeric=True),
            Column("Measured", numeric=True),
            Column("Outside by", numeric=True),
            Column("Lost a year", numeric=True, unit="%"),
            Column("Median there", numeric=True, unit="%"),
            Column("Gauged"),
        ),
        rows=[
            Row(
                [
                    Cell(one.vessel.code, href=reverse("cask", args=[one.vessel.code])),
                    Cell(_says(one), state=MARKS.get(one.verdict)),
                    Cell(one.warehouse),
                    Cell(one.vessel.cask.kind),
                    Cell(number(one.years, 1)),
                    Cell(number(one.filled_lpa, 1)),
                    Cell(_band(one)),
                    Cell(f"{number(one.measured_lpa, 1)} ± {number(one.two_u_lpa, 1)}"),
                    Cell(number(one.outside_lpa, 1, SIGNED) if one.outside_lpa else "inside"),
                    Cell("too soon" if one.rate_percent is None else number(one.rate_percent, 1)),
                    Cell(TOO_FEW if one.median_percent is None else number(one.median_percent, 1)),
                    Cell(day(one.gauged_at, year=True)),
                ]
            )
            for one in watched
        ],
        empty="No cask has been gauged since it was filled. A regauge shows what a cask has lost.",
        wide=True,
    )


def _band(one: CaskWatch) -> str:
    if one.low_lpa is None or one.high_lpa is None:
        return NO_BAND
    return f"{number(one.low_lpa, 1)} to {number(one.high_lpa, 1)}"


def _says(one: CaskWatch) -> str:
    if one.verdict == Verdict.BELOW:
        return "below its band: look for a leak"
    if one.verdict == Verdict.ABOVE:
        return "above its band: gauge again"
    return one.verdict.value or "usual"


def _csv(watched: list[CaskWatch]) -> str:
    text = StringIO()
    out = csv.writer(text, lineterminator="\r\n")
    out.writerow(CSV_COLUMNS)
    for one in watched:
        figures = (
            one.filled_lpa,
            one.low_lpa,
            one.high_lpa,
            one.measured_lpa,
            one.two_u_lpa,
            one.outside_lpa,
            one.rate_percent,
            one.median_percent,
        )
        out.writerow(
            tables_out.row(
                [
                    one.vessel.code,
                    one.vessel.cask.kind,
                    one.warehouse,
                    one.filled_at.isoformat(),
                    one.gauged_at.isoformat(),
                    number(one.years, 2, PLAIN),
                    *("" if value is None else number(value, 2, PLAIN) for value in figures),
                    one.verdict.value or "usual",
                ]
            )
        )
    return text.getvalue()


def _printed(one: CaskWatch) -> paper.CaskLine:
    return paper.CaskLine(
        one.vessel.code,
        one.vessel.cask.kind,
        one.warehouse,
        one.years,
        one.filled_lpa,
        one.low_lpa,
        one.high_lpa,
        one.measured_lpa,
        one.two_u_lpa,
        one.rate_percent,
        one.median_percent,
        one.gauged_at,
        one.verdict.value or "usual",
    )
