"""The figures of an enquiry as the books have them now: those of its finding, from the one comparison.

An enquiry keeps what it was opened with. What it is judged against, its threshold and its uncertainty move when a
record is put right, and then the figures of today stand on page and paper, and those of its opening beside them.
"""

from __future__ import annotations

from dataclasses import dataclass

from ledger.comparing.unaccounted import THE_BOOK, found_in_vessel, left_by_records
from ledger.enquiries.covering import GAUGING_OF, is_whole
from ledger.enquiries.models import Enquiry


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
        vessel = enquiry.operation.removeprefix(GAUGING_OF)
        found = [
            one
            for one in found_in_vessel(vessel, enquiry.happened_at, 2)
            if one.record == enquiry.record_number and one.at == enquiry.happened_at
        ]
        if not found:
            return None
        gauge = max(found, key=lambda one: abs(one.found_ul))
        return FiguresNow(THE_BOOK, gauge.book_ul, 0, "", gauge.uncertainty_ul)
    left = left_by_records([enquiry.record_number]).get(enquiry.record_number)
    if left is None:
        return None
    return FiguresNow(left.judged_against, left.charge_ul, left.threshold_ul, left.basis, left.uncertainty_ul)
