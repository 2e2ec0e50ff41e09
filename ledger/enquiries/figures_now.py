"""The figures of an enquiry as the books have them now: those of its finding, from the one comparison.

An enquiry keeps what it was opened with. What it is judged against, its threshold and its uncertainty move when a
record is put right, and then the figures of today stand on page and paper, and those of its opening beside them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models.functions import Coalesce

from ledger.comparing.findings.stock_apart import stock_threshold
from ledger.comparing.unaccounted import (
    THE_BOOK,
    GaugeFound,
    OperationLeft,
    found_in_vessel,
    left_by_records,
    threshold_ul,
)
from ledger.enquiries.balance import gauges_about
from ledger.enquiries.covering import GAUGING_OF, is_whole
from ledger.enquiries.models import Enquiry
from ledger.models import Gauge, Movement
from ledger.statements.counted_stock import STOCK_COUNT, counted_stock
from ledger.statements.unaccounted_legs import gauge_key

MOVEMENTS_A_RECORD = 4
# What the key of a finding begins with that is about a figure and about no alcohol.
OF_FIGURES = ("strength:", "temperature:", "figure:", "unlike:")


@dataclass(frozen=True, slots=True)
class FiguresNow:
    """What the difference of an enquiry is judged against, its threshold and its standard uncertainty; microlitres."""

    judged_against: str
    charge_ul: int
    threshold_ul: int
    basis: str
    uncertainty_ul: int


@dataclass(frozen=True, slots=True)
class Earlier:
    """The last times of an operation, by record, or the last gauges of a vessel in order of time, up to a moment."""

    left: Mapping[str, OperationLeft]
    found: Sequence[GaugeFound]


def is_about_a_figure(enquiry: Enquiry) -> bool:
    """Whether it is about a strength or a figure unlike its kind, and not about alcohol that is missing or over."""
    return enquiry.key.startswith(OF_FIGURES)


def earlier_of(operation: str, at: datetime, last: int) -> Earlier:
    """The last so many times up to a moment; `operation` is an operation's name, or `gauging of <vessel>`."""
    if operation.startswith(GAUGING_OF):
        return Earlier({}, found_in_vessel(operation.removeprefix(GAUGING_OF), at, last))
    rows = (
        Movement.objects.operations()
        .filter(operation=operation)
        .annotate(truly_at=Coalesce("true_at", "happened_at"))
        .filter(truly_at__lte=at)
        .order_by("-truly_at", "-slot")
        .values_list("record_number", flat=True)[: last * MOVEMENTS_A_RECORD]
    )
    return Earlier(left_by_records(list(dict.fromkeys(rows))[:last]), ())


def figures_now(enquiry: Enquiry, earlier: Earlier | None = None) -> FiguresNow | None:
    """None for an enquiry about many runs together or about a figure that is no alcohol, and where no operation and no
    gauge stands behind it any more.

    `earlier` are the last times of its operation, where they have been read: its own is among them as a rule.
    """
    if is_whole(enquiry) or is_about_a_figure(enquiry):
        return None
    if enquiry.operation.startswith(GAUGING_OF):
        return _of_gauge(enquiry, earlier.found if earlier else ())
    if enquiry.operation == STOCK_COUNT:
        return _of_count(enquiry)
    left = earlier.left.get(enquiry.record_number) if earlier else None
    if left is None:
        left = left_by_records([enquiry.record_number]).get(enquiry.record_number)
    if left is None:
        return None
    return FiguresNow(left.judged_against, left.charge_ul, left.threshold_ul, left.basis, left.uncertainty_ul)


def _of_gauge(enquiry: Enquiry, known: Iterable[GaugeFound]) -> FiguresNow | None:
    """Those of the gauge it is about, and of no other that the same record took of the vessel."""
    own = gauges_about(enquiry).standing().first()
    if own is None:
        return None
    key = gauge_key(own)
    gauge = _by_key(known).get(key) or _by_key(_gauges_of(enquiry, own)).get(key)
    return None if gauge is None else FiguresNow(THE_BOOK, gauge.book_ul, 0, "", gauge.uncertainty_ul)


def _of_count(enquiry: Enquiry) -> FiguresNow | None:
    """Those of the count of bottled stock it is about."""
    counts = counted_stock(Movement.objects.operations().filter(record_number=enquiry.record_number))
    own = next((one for one in counts if one.key == enquiry.key), None)
    if own is None:
        return None
    rule = stock_threshold(own)
    basis = rule.source if rule is not None else ""
    return FiguresNow(THE_BOOK, own.book_ul, threshold_ul(rule, own.book_ul), basis, 0)


def _gauges_of(enquiry: Enquiry, own: Gauge) -> list[GaugeFound]:
    """As many of the vessel's gauges as stand at that record, and the one before them."""
    vessel = enquiry.operation.removeprefix(GAUGING_OF)
    last = Gauge.objects.standing().filter(account=own.account, movement__record_number=enquiry.record_number).count()
    return found_in_vessel(vessel, own.happened_at, last + 1)


def _by_key(found: Iterable[GaugeFound]) -> dict[str, GaugeFound]:
    return {one.key.partition(":")[2]: one for one in found}
