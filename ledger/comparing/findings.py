"""Findings: what a month's figures leave that somebody should look into, most serious first.

Two questions about every operation: is its difference outside the site's review threshold, and can the
instruments tell it from nothing (two standard uncertainties)? Outside and told apart: an enquiry. Outside
but not told apart: gauge again. Every gauge is compared with its book as well. A wrong reading shows
twice, missing at its operation and found at the vessel's next gauge: the two are one finding.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import QuerySet

from distillery.plant.models import MICRO
from distillery.rules.models import ONE, ReviewThreshold
from distillery.rules.reading import NoRuleInForce, review_threshold
from ledger.comparing.causes import Likely, likely_reading
from ledger.comparing.differences import Found, OperationDifference, gauge_findings, operation_differences
from ledger.models import Movement

COVERAGE = 2
ENQUIRY, GAUGE_AGAIN, CONTINUITY = "enquiry", "gauge again", "continuity"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to look into. Microlitres of pure alcohol; missing is positive, extra negative."""

    kind: str
    record: str
    record_kind: str
    operation: str
    at: datetime
    difference_ul: int
    uncertainty_ul: float
    threshold_ul: int
    in_ul: int
    basis: str
    state: str = "open"
    likely: tuple[Likely, ...] = ()
    found_again: str = ""
    found_again_ul: int = 0

    @property
    def beyond_ul(self) -> int:
        """How far outside the threshold it lies."""
        return abs(self.difference_ul) - self.threshold_ul

    @property
    def percent_of_in(self) -> float | None:
        """The difference as a share of the alcohol that went in."""
        return 100 * self.difference_ul / self.in_ul if self.in_ul else None

    @property
    def sentence(self) -> str:
        """What is the matter, in one line."""
        way = "missing" if self.difference_ul > 0 else "more than can be"
        size = abs(self.difference_ul) / MICRO
        if self.kind == GAUGE_AGAIN:
            return f"{size:.2f} LPA {way}, but the readings are too rough to say: gauge again."
        if self.kind == CONTINUITY:
            way = "less than" if self.difference_ul > 0 else "more than"
            return f"The gauge found {size:.2f} LPA {way} the book."
        return f"{size:.2f} LPA {way} in this operation."


def findings(period: str | None = None) -> list[Finding]:
    """Findings of one month ('2027-03'), or of everything posted, most serious first."""
    movements = Movement.objects.all() if period is None else Movement.objects.filter(period=period)
    return _rank(movements)


def findings_of_record(record_kind: str, record_number: str, period: str) -> list[Finding]:
    """The findings of the month that name this record, at its operation or where it was found again."""
    return [one for one in findings(period) if record_number in (one.record, one.found_again)]


def _rank(movements: QuerySet[Movement]) -> list[Finding]:
    operations = operation_differences(movements)
    gauges = gauge_findings(movements)
    following = {one.before.pk: one for one in gauges if one.before is not None}
    taken: set[int] = set()
    result: list[Finding] = []
    for operation in operations:
        finding = _of_operation(operation, following, taken)
        if finding is not None:
            result.append(finding)
    for found in gauges:
        if found.gauge.pk not in taken:
            finding = _of_gauge(found)
            if finding is not None:
                result.append(finding)
    return sorted(result, key=lambda one: (one.kind != ENQUIRY, -one.beyond_ul, one.at))


def _rule(operation: str, vessel: str, at: datetime) -> ReviewThreshold | None:
    on: date = at.astimezone(ZoneInfo(settings.TIME_ZONE)).date()
    try:
        return review_threshold(operation, vessel, on)
    except NoRuleInForce:
        return None


def _threshold_ul(rule: ReviewThreshold, in_ul: int) -> int:
    return max(rule.floor_ul, in_ul * rule.threshold_millionths // ONE)


def _of_operation(
    operation: OperationDifference, following: dict[int, Found], taken: set[int]
) -> Finding | None:
    if not operation.difference_ul:
        return None
    rule = _rule(operation.operation, next(iter(sorted(operation.vessels)), ""), operation.at)
    if rule is None:
        return None
    threshold_ul = _threshold_ul(rule, operation.in_ul)
    if abs(operation.difference_ul) <= threshold_ul:
        return None
    told_apart = abs(operation.difference_ul) > COVERAGE * operation.uncertainty_ul
    again, likely = _found_again(operation, rule, following)
    if again is not None:
        taken.add(again.gauge.pk)
    return Finding(
        kind=ENQUIRY if told_apart else GAUGE_AGAIN,
        record=operation.record,
        record_kind=operation.record_kind,
        operation=operation.operation,
        at=operation.at,
        difference_ul=operation.difference_ul,
        uncertainty_ul=operation.uncertainty_ul,
        threshold_ul=threshold_ul,
        in_ul=operation.in_ul,
        basis=rule.source,
        likely=tuple(likely),
        found_again=again.record if again else "",
        found_again_ul=again.found_ul if again else 0,
    )


def _found_again(
    operation: OperationDifference, rule: ReviewThreshold, following: dict[int, Found]
) -> tuple[Found | None, list[Likely]]:
    """The next gauge of a vessel of this operation that found what is missing here, and the reading behind it."""
    excess_ul = operation.difference_ul - operation.in_ul * rule.usual_millionths // ONE
    best: tuple[Found, int] | None = None
    for gauge in operation.gauges:
        found = following.get(gauge.pk)
        if found is None or gauge.role != "after":
            continue
        # Out of an operation's input a short closing dip makes too much, into its output too little.
        left_ul = excess_ul - found.found_ul
        near = max(3 * (found.uncertainty_ul + operation.uncertainty_ul), 0.25 * abs(excess_ul))
        if (
            abs(found.found_ul) > COVERAGE * found.uncertainty_ul
            and abs(left_ul) < near
            and (best is None or abs(left_ul) < abs(best[1]))
        ):
            best = (found, left_ul)
    if best is None:
        return None, []
    found, left_ul = best
    assert found.before is not None
    return found, likely_reading(found.before, found.gauge, record=operation.record, left_ul=left_ul)


def _of_gauge(found: Found) -> Finding | None:
    if not found.found_ul or found.before is None:
        return None
    rule = _rule("gauging", found.vessel, found.at)
    if rule is None:
        return None
    threshold_ul = _threshold_ul(rule, found.contents_ul)
    if abs(found.found_ul) <= threshold_ul or abs(found.found_ul) <= COVERAGE * found.uncertainty_ul:
        return None
    return Finding(
        kind=CONTINUITY,
        record=found.record,
        record_kind=found.record_kind,
        operation=f"gauging of {found.vessel}",
        at=found.at,
        difference_ul=-found.found_ul,
        uncertainty_ul=found.uncertainty_ul,
        threshold_ul=threshold_ul,
        in_ul=found.contents_ul,
        basis=rule.source,
    )
