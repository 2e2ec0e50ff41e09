"""The finding an enquiry is about, as the figures have it now.

Figures change as later gauges arrive, so causes are those of the comparison as it stands and not kept with the enquiry.
"""

from __future__ import annotations

from dataclasses import dataclass

from ledger.comparing.findings.finding import Finding
from ledger.comparing.findings.unseen import Detectability
from ledger.enquiries.looking import try_month
from ledger.enquiries.models import Enquiry
from ledger.enquiries.opening import BY_HAND
from ledger.kept.compared_month import ComparedMonth
from ledger.periods import period_of


@dataclass(frozen=True, slots=True)
class Looked:
    """A finding as it stands, and what could not have been seen at its operation with the present instruments.

    `being_compared` is true while the figures are compared anew.
    """

    finding: Finding | None
    not_seen: Detectability | None
    month: ComparedMonth | None
    not_compared: tuple[str, ...] = ()
    being_compared: bool = False


def look_at(enquiry: Enquiry) -> Looked:
    """The month's finding with the enquiry's key; for one opened by hand, the gravest about its record."""
    tried = try_month(period_of(enquiry.happened_at))
    found = tried.findings
    finding = next((one for one in found if one.key == enquiry.key), None)
    if finding is None and enquiry.kind == BY_HAND:
        finding = next((one for one in found if enquiry.record_number in (one.record, *one.under)), None)
    return Looked(finding, tried.unseen(enquiry.record_number), tried.month, tried.not_compared, tried.is_behind)
