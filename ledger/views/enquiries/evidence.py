"""What stands behind a finding, as parts of a page: readings of both sides, causes, the same operation before.

Pages only put it in order; figures come from the books and from `ledger.comparing`.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime

from django.db.models.functions import Coalesce
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.safestring import SafeString
from django.utils.text import capfirst

from distillery import charts
from distillery.clock.reading import site_day
from distillery.figures import day, litres_from_ul, lpa, moment, number, percent
from distillery.pages import OUT, Cell, Column, Link, Row, Table
from distillery.plant.models import MICRO
from distillery.rules.in_force import NoRuleInForce, review_threshold
from distillery.rules.models import ONE, ReviewThreshold
from ledger.comparing.findings.differences import OperationDifference, gauge_findings, operation_differences
from ledger.enquiries.balance import GAUGING_OF
from ledger.models import Gauge, Movement, MovementKind
from ledger.views.ways import account_href, record_href
from ledger.words_of_columns import words_of

LAST = 24
MOVEMENTS_A_RECORD = 4
BEYOND = "Out"
REGAUGE = "regauge"


@dataclass(frozen=True, slots=True)
class Before:
    """The same operation before: a chart in percent of the alcohol in, and its figures."""

    chart: SafeString
    table: Table
    caption: str


@dataclass(frozen=True, slots=True)
class _Point:
    record_kind: str
    record: str
    at: datetime
    difference_ul: int
    in_ul: int
    uncertainty_ul: float

    @property
    def share(self) -> float:
        return 100 * self.difference_ul / self.in_ul if self.in_ul else 0.0


def readings_table(records: list[tuple[str, str]]) -> Table:
    """The standing gauges of some records, each given as (kind, number), with what was typed and how sure it is."""
    numbers = {number for _, number in records}
    gauges = [
        gauge
        for gauge in Gauge.objects.standing()
        .filter(movement__record_number__in=numbers, movement__kind=MovementKind.OPERATION)
        .select_related("movement", "account")
        .order_by("happened_at", "position")
        if (gauge.movement.record_kind, gauge.movement.record_number) in records
    ]
    return Table(
        caption="What was measured",
        note="on both sides, as typed and as worked out",
        columns=(
            Column("Taken"),
            Column("Record"),
            Column("Vessel"),
            Column("Gauge"),
            Column("As typed"),
            Column("Liquid", numeric=True, unit="L at 20 °C"),
            Column("Strength", numeric=True, unit="% vol"),
            Column("Alcohol", numeric=True, unit="LPA"),
            Column("± two standard uncertainties", numeric=True),
        ),
        rows=[
            Row(
                [
                    Cell(moment(one.happened_at, year=True)),
                    Cell(
                        one.movement.record_number,
                        href=record_href(one.movement.record_kind, one.movement.record_number),
                    ),
                    Cell(one.account.name, href=account_href(one.account)),
                    Cell(words_of(one.movement.record_kind, one.name).label),
                    Cell(_typed(one)),
                    Cell(litres_from_ul(one.litres20_ul)),
                    Cell(percent(one.percent20_millionths / MICRO, 2)),
                    Cell(lpa(one.pure_ul)),
                    Cell(lpa(2 * one.uncertainty_ul)),
                ]
            )
            for one in gauges
        ],
        empty="Nothing was gauged in this operation.",
        wide=True,
    )


def _typed(gauge: Gauge) -> str:
    raw: dict[str, str] = json.loads(gauge.raw)
    return ", ".join(words_of(gauge.movement.record_kind, name).with_value(text) for name, text in raw.items())


def before(operation: str, at: datetime, *, name: str = "before") -> Before | None:
    """The last two dozen times up to a moment, against the review threshold in force then; None where it is the first.

    `operation` is an operation's name, or `gauging of <vessel>`; `name` tells the charts of one page apart.
    """
    gauged = operation.startswith(GAUGING_OF)
    points = _gauged(operation.removeprefix(GAUGING_OF), at) if gauged else _done(operation, at)
    if len(points) < 2:
        return None
    rule = _rule("gauging" if gauged else operation, at)
    caption = f"{capfirst(operation)}: the last {len(points)}, in percent of the alcohol in"
    return Before(_chart(points, rule, operation, name), _table(points, rule, caption), caption)


def _done(operation: str, at: datetime) -> list[_Point]:
    rows = (
        Movement.objects.operations()
        .filter(operation=operation)
        .annotate(truly_at=Coalesce("true_at", "happened_at"))
        .filter(truly_at__lte=at)
        .order_by("-truly_at", "-slot")
        .values_list("record_number", flat=True)[: LAST * MOVEMENTS_A_RECORD]
    )
    numbers = list(dict.fromkeys(rows))[:LAST]
    found = operation_differences(Movement.objects.filter(operation=operation, record_number__in=numbers))
    points = [
        _Point(one.record_kind, one.record, one.at, one.difference_ul, _charged(one), one.uncertainty_ul)
        for one in sorted(found, key=lambda one: one.at)
    ]
    return [point for point in points if point.in_ul]


def _charged(one: OperationDifference) -> int:
    """What a share is taken of: the alcohol that went in; of a cask gauged again, what it should have held."""
    if one.operation != REGAUGE:
        return one.in_ul
    return max((gauge.pure_ul for gauge in one.gauges), default=0) + max(one.difference_ul + one.losses_ul, 0)


def _gauged(vessel: str, at: datetime) -> list[_Point]:
    movements = list(
        Gauge.objects.standing()
        .filter(account__code=f"vessel:{vessel}", happened_at__lte=at)
        .order_by("-happened_at", "-position")
        .values_list("movement_id", flat=True)[: LAST + 1]
    )
    found = [one for one in gauge_findings(Movement.objects.filter(pk__in=movements)) if one.vessel == vessel]
    return [
        _Point(one.record_kind, one.record, one.at, -one.found_ul, one.contents_ul, one.uncertainty_ul)
        for one in found
        if one.before is not None and one.contents_ul
    ]


def _rule(operation: str, at: datetime) -> ReviewThreshold | None:
    try:
        return review_threshold(operation, "", site_day(at))
    except NoRuleInForce:
        return None


def _is_beyond(point: _Point, rule: ReviewThreshold | None) -> bool:
    if rule is None:
        return False
    return abs(point.difference_ul) > max(rule.floor_ul, point.in_ul * rule.threshold_millionths // ONE)


def _chart(points: list[_Point], rule: ReviewThreshold | None, operation: str, name: str) -> SafeString:
    limits = None
    if rule is not None:
        usual, threshold = rule.usual_millionths / 10_000, rule.threshold_millionths / 10_000
        said = f"Usual loss and review threshold in force from {day(rule.from_day, year=True)}"
        limits = charts.Limits(mean=usual, lower=-threshold, upper=threshold, set_on=said)
    return charts.control_chart(
        [charts.Difference(one.record, one.share, BEYOND if _is_beyond(one, rule) else "") for one in points],
        name=name,
        title=f"{capfirst(operation)}: difference each time",
        limits=limits,
        quantity="Difference, percent of the alcohol in",
        unit="percent of the alcohol in",
    )


def _table(points: list[_Point], rule: ReviewThreshold | None, caption: str) -> Table:
    return Table(
        caption=caption,
        columns=(
            Column("Record"),
            Column("Happened"),
            Column("Alcohol in", numeric=True, unit="LPA"),
            Column("Difference", numeric=True, unit="LPA"),
            Column("Share", numeric=True, unit="%"),
            Column("± two standard uncertainties", numeric=True, unit="LPA"),
        ),
        rows=[
            Row(
                [
                    Cell(one.record, href=record_href(one.record_kind, one.record)),
                    Cell(moment(one.at, year=True)),
                    Cell(lpa(one.in_ul)),
                    Cell(lpa(one.difference_ul), state=OUT if _is_beyond(one, rule) else None),
                    Cell(number(one.share, 2)),
                    Cell(lpa(round(2 * one.uncertainty_ul))),
                ]
            )
            for one in reversed(points)
        ],
        empty="This is the first.",
    )


def correction(record_kind: str, record: str, suggested: list[tuple[str, str]]) -> Link:
    """The way to the correction of a record, each suggestion filled in beside what was written; nothing is changed."""
    address = reverse("record_correct", kwargs={"kind": record_kind, "number": record})
    asked = urlencode([("suggest", f"{name}:{value}") for name, value in suggested])
    return Link(f"Correct {record}", f"{address}?{asked}" if asked else address)
