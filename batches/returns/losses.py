"""Duty that may become due on what is missing: worked out line by line, declared nowhere, and never netted.

A producer's loss bears no duty where HMRC is satisfied that it was lost on the premises by accident; what cannot be
accounted for does. Losses and surpluses are set off only where they are shown to be related, each with its written
reason (GOV.UK, Alcoholic products technical guide, section 14). So what is missing stands here in full, and a surplus
that two people tied to it is named beside. The law and the officer decide. Microlitres at 20 °C, pence.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from batches.returns.duty_lines import duty_at
from batches.returns.duty_point import DutyPoint, duty_point
from batches.returns.months import Span
from distillery.clock.reading import site_day
from distillery.plant.models import MICRO
from distillery.rules.in_force import NoDutyRate, duty_on_line
from ledger.enquiries.covering import GAUGING_OF
from ledger.enquiries.models import Ending
from ledger.enquiries.register import DifferenceLine, loss_register
from ledger.enquiries.standing import UNANSWERED
from ledger.models import Gauge
from ledger.periods.calendar import Calendar, NoSuchPeriod
from ledger.statements.counted_stock import STOCK_COUNT, label_percent_of

# Where goods lie as they were, only the gauge or count says that some are missing.
FOUND_BY_GAUGING = frozenset({"regauge", "stock take", "standing", STOCK_COUNT})


@dataclass(frozen=True, slots=True)
class MayBeDue:
    """One amount that is missing, with the duty it would bear; rate and pence None where not known, and `why`.

    `tied_to` names the enquiry about a surplus that it was set off against, with `tied_reason` in writing.
    """

    enquiry: str
    record_kind: str
    record: str
    operation: str
    stage: str
    at: datetime
    point: DutyPoint
    pure_ul: int
    percent: Decimal | None
    tax_type: str
    rate: int | None
    pence: int | None
    why: str
    state: str
    tied_to: str = ""
    tied_reason: str = ""


@dataclass(frozen=True, slots=True)
class Missing:
    """What is missing of a month: each amount with an enquiry that no cause answers, and the rest within thresholds."""

    lines: tuple[MayBeDue, ...]
    without_enquiry: int
    without_enquiry_missing_ul: int
    without_enquiry_over_ul: int

    @property
    def pence(self) -> int | None:
        """What may become due together; None where a part is not known."""
        known = [one.pence for one in self.lines]
        return None if None in known else sum(one for one in known if one is not None)


def may_become_due(span: Span) -> Missing:
    """What is missing of a month that no known cause explains; the periods that begin in it where it has stock
    periods."""
    lines: list[MayBeDue] = []
    count = missing = over = 0
    for period in _periods(span):
        register = loss_register(period)
        lines += [_line(one) for one in register.differences if one.open_ul > 0 and _may_be_due(one)]
        count += register.within_count
        missing += register.within_missing_ul
        over -= register.within_extra_ul
    return Missing(tuple(lines), count, missing, over)


def _periods(span: Span) -> tuple[str, ...]:
    if span.periods:
        return span.periods
    calendar = Calendar.read()
    found = [one.code for one in calendar.spans if span.first_day <= one.first_day <= span.last_day]
    try:
        return tuple(dict.fromkeys([calendar.period_of(span.starts), *found]))
    except NoSuchPeriod:
        return tuple(found)


def _may_be_due(line: DifferenceLine) -> bool:
    """What is not answered, what no cause was found for, and what was set off: not what measuring explains."""
    standing = line.standing
    if standing.state in UNANSWERED or standing.not_found:
        return True
    return standing.decided is not None and standing.decided.ending == Ending.SET_OFF


def _line(line: DifferenceLine) -> MayBeDue:
    standing = line.standing
    enquiry, decided = standing.enquiry, standing.decided
    found = enquiry.operation.startswith(GAUGING_OF) or enquiry.operation in FOUND_BY_GAUGING
    day = site_day(line.at)
    lost_on = decided.happened_at if decided is not None else None
    went_missing = site_day(lost_on) if lost_on is not None else None if found else day
    point = duty_point(went_missing=went_missing, discovered=day)
    percent = _strength(line)
    tax_type, rate, pence, why = _duty(point, line.open_ul, percent)
    tied = decided is not None and decided.ending == Ending.SET_OFF and decided.other is not None
    return MayBeDue(
        enquiry=enquiry.number,
        record_kind=line.record_kind,
        record=line.record,
        operation=line.operation,
        stage=line.stage,
        at=line.at,
        point=point,
        pure_ul=line.open_ul,
        percent=percent,
        tax_type=tax_type,
        rate=rate,
        pence=pence,
        why=why,
        state=standing.in_words,
        tied_to=decided.other.number if tied and decided is not None and decided.other is not None else "",
        tied_reason=decided.text if tied and decided is not None else "",
    )


def _strength(line: DifferenceLine) -> Decimal | None:
    """The strength of the liquid it is missing of: that of the record's last gauge in its stage, % vol; of bottles
    that of their label."""
    if (label := label_percent_of(line.standing.enquiry.key)) is not None:
        return label
    gauges = Gauge.objects.standing().filter(
        movement__record_kind=line.record_kind, movement__record_number=line.record, percent20_millionths__gt=0
    )
    last = gauges.filter(account__stage=line.stage).order_by("-position").first() if line.stage else None
    last = last or gauges.order_by("-position").first()
    return None if last is None else (Decimal(last.percent20_millionths) / MICRO).quantize(Decimal("0.01"))


def _duty(point: DutyPoint, pure_ul: int, percent: Decimal | None) -> tuple[str, int | None, int | None, str]:
    if percent is None:
        return "", None, None, "No strength is on record for it."
    litres = Decimal(pure_ul) / MICRO * 100 / percent
    try:
        due = duty_on_line(point.day, litres, percent)
    except NoDutyRate as unknown:
        return "", None, None, str(unknown)
    rate = due.rate.pence_hundredths_per_lpa
    at = datetime.combine(point.day, datetime.min.time()).astimezone()
    return due.rate.tax_type, rate, duty_at(pure_ul, rate, at), ""
