"""What stands behind a finding, as parts of a page: the same operation before, and the way to a correction.

Pages only put it in order; figures come from the books and from `ledger.comparing`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.urls import reverse
from django.utils.http import urlencode
from django.utils.safestring import SafeString
from django.utils.text import capfirst

from distillery import charts
from distillery.clock.reading import site_day
from distillery.figures import day, difference, lpa, moment, number, way
from distillery.pages import OUT, Cell, Column, Link, Row, Table
from distillery.rules.in_force import NoRuleInForce, review_threshold
from distillery.rules.models import ReviewThreshold
from ledger.comparing.unaccounted import THE_BOOK, GaugeFound, OperationLeft, threshold_ul
from ledger.enquiries.balance import GAUGING_OF
from ledger.enquiries.figures_now import Earlier, earlier_of
from ledger.models import Movement
from ledger.views.ways import record_href

LAST = 24
BEYOND = "Out"
NO_THRESHOLD = "not set"
NARROW = 520.0


@dataclass(frozen=True, slots=True)
class Before:
    """The same operation before: a chart in percent of the alcohol in, and its figures."""

    chart: SafeString
    table: Table
    caption: str


@dataclass(frozen=True, slots=True)
class _Point:
    """One time before: what it left or found (missing positive), and what that is judged against. Microlitres."""

    record_kind: str
    record: str
    at: datetime
    difference_ul: int
    charge_ul: int
    uncertainty_ul: int
    threshold_ul: int

    @property
    def share(self) -> float:
        return 100 * self.difference_ul / self.charge_ul

    @property
    def is_beyond(self) -> bool:
        return abs(self.difference_ul) > self.threshold_ul > 0


def before(
    operation: str, at: datetime, *, name: str = "before", earlier: Earlier | None = None, narrow: bool = False
) -> Before | None:
    """The last two dozen times up to a moment, each by the review threshold in force then; None where it is the first.

    `operation` is an operation's name, or `gauging of <vessel>`; `name` tells the charts of one page apart. Figures are
    those of `ledger.comparing.unaccounted`, as on every other page. `earlier` has those times where they were read,
    `narrow` draws for a column.
    """
    gauged = operation.startswith(GAUGING_OF)
    earlier = earlier or earlier_of(operation, at, LAST)
    points = _gauged(earlier.found) if gauged else _done(earlier.left.values())
    points = [point for point in points if point.charge_ul > 0]
    if len(points) < 2:
        return None
    against = THE_BOOK if gauged else _judged_against(operation, points[-1].record)
    caption = f"{capfirst(operation)}: the last {len(points)}, in percent of {against}"
    rule = _rule("gauging" if gauged else operation, at)
    chart = _chart(points, rule, operation, name, against, narrow=narrow)
    return Before(chart, _table(points, caption, against), caption)


def _done(left: Iterable[OperationLeft]) -> list[_Point]:
    return [
        _Point(
            one.record_kind,
            one.record,
            one.at,
            one.difference_ul,
            one.charge_ul,
            one.uncertainty_ul,
            one.threshold_ul,
        )
        for one in sorted(left, key=lambda one: one.at)
    ]


def _judged_against(operation: str, record: str) -> str:
    said = Movement.objects.operations().filter(operation=operation, record_number=record).exclude(judged_against="")
    return said.values_list("judged_against", flat=True).first() or "what it is judged against"


def _gauged(found: Iterable[GaugeFound]) -> list[_Point]:
    return [
        _Point(
            one.record_kind,
            one.record,
            one.at,
            one.difference_ul,
            one.book_ul,
            one.uncertainty_ul,
            threshold_ul(_rule("gauging", one.at), one.book_ul),
        )
        for one in found
    ]


def _rule(operation: str, at: datetime) -> ReviewThreshold | None:
    try:
        return review_threshold(operation, "", site_day(at))
    except NoRuleInForce:
        return None


def _chart(
    points: list[_Point], rule: ReviewThreshold | None, operation: str, name: str, against: str, *, narrow: bool
) -> SafeString:
    limits = None
    if rule is not None:
        usual, threshold = rule.usual_millionths / 10_000, rule.threshold_millionths / 10_000
        said = f"Usual loss and review threshold in force from {day(rule.from_day, year=True)}"
        limits = charts.Limits(mean=usual, lower=-threshold, upper=threshold, set_on=said)
    return charts.control_chart(
        [charts.Difference(one.record, one.share, BEYOND if one.is_beyond else "") for one in points],
        name=name,
        title=f"{capfirst(operation)}: difference each time",
        limits=limits,
        quantity=f"Percent of {against}: missing upwards, over downwards",
        unit=f"percent of {against}",
        **({"width": NARROW} if narrow else {}),
    )


def _table(points: list[_Point], caption: str, against: str) -> Table:
    return Table(
        caption=caption,
        columns=(
            Column("Record"),
            Column("Happened"),
            Column(capfirst(against), numeric=True, unit="LPA"),
            Column("Difference", numeric=True, unit="LPA"),
            Column("Share", numeric=True, unit="%"),
            Column("Review threshold", numeric=True, unit="LPA"),
            Column("± two standard uncertainties", numeric=True, unit="LPA"),
        ),
        rows=[
            Row(
                [
                    Cell(one.record, href=record_href(one.record_kind, one.record)),
                    Cell(moment(one.at, year=True)),
                    Cell(lpa(one.charge_ul)),
                    Cell(difference(one.difference_ul), state=OUT if one.is_beyond else None),
                    Cell(f"{number(abs(one.share), 2)} {way(one.difference_ul)}".strip()),
                    Cell(lpa(one.threshold_ul) if one.threshold_ul else NO_THRESHOLD),
                    Cell(lpa(2 * one.uncertainty_ul)),
                ]
            )
            for one in reversed(points)
        ],
        empty="This is the first.",
    )


def correction(record_kind: str, record: str, suggested: list[tuple[str, str]], *, enquiry: str = "") -> Link:
    """The way to the correction of a record, each suggestion filled in beside what was written; nothing is changed.

    Whoever corrects it comes back to the enquiry named.
    """
    address = reverse("record_correct", kwargs={"kind": record_kind, "number": record})
    pairs = [("suggest", f"{name}:{value}") for name, value in suggested]
    asked = urlencode([*pairs, *([("enquiry", enquiry)] if enquiry else [])])
    return Link(f"Correct {record}", f"{address}?{asked}" if asked else address)
