"""The figures of an enquiry as the books have them now: those of its finding, from the one comparison.

An enquiry keeps what it was opened with. What it is judged against, its threshold and its uncertainty move when a
record is put right, and then the figures of today stand on page and paper, and those of its opening beside them.
"""

from __future__ import annotations

from dataclasses import dataclass

from ledger.comparing.unaccounted import THE_BOOK, found_in_vessel, left_by_records
from ledger.enquiries.balance import gauges_about
from ledger.enquiries.covering import GAUGING_OF, is_whole
from ledger.enquiries.models import Enquiry
from ledger.models import Gauge
from ledger.statements.unaccounted_legs import gauge_key


@dataclass(frozen=True, slots=True)
class FiguresNow:
    """What the difference of an enquiry is judged against, its threshold and its standard uncertainty; microlitres."""

    judged_against: str
    charge_ul: int
    threshold_ul: int
    basis: str
    uncertainty_ul: int


def figures_now(enquiry: Enquiry) -> FiguresNow | None:
    """None for an enquiry about many runs together, and where no operation and no gauge stands behind it any more."""
    if is_whole(enquiry):
        return None
    if enquiry.operation.startswith(GAUGING_OF):
        return _of_gauge(enquiry)
    left = left_by_records([enquiry.record_number]).get(enquiry.record_number)
    if left is None:
        return None
    return FiguresNow(left.judged_against, left.charge_ul, left.threshold_ul, left.basis, left.uncertainty_ul)


def _of_gauge(enquiry: Enquiry) -> FiguresNow | None:
    """Those of the gauge it is about, and of no other that the same record took of the vessel."""
    own = gauges_about(enquiry).standing().first()
    if own is None:
        return None
    vessel = enquiry.operation.removeprefix(GAUGING_OF)
    # As many of the vessel's gauges as stand at that record, and the one before them.
    last = Gauge.objects.standing().filter(account=own.account, movement__record_number=enquiry.record_number).count()
    found = {one.key.partition(":")[2]: one for one in found_in_vessel(vessel, own.happened_at, last + 1)}
    gauge = found.get(gauge_key(own))
    return None if gauge is None else FiguresNow(THE_BOOK, gauge.book_ul, 0, "", gauge.uncertainty_ul)
