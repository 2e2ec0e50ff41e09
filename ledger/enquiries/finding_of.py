"""The finding an enquiry is about, as the figures have it now, and the record in whose entries it shows.

Figures change as later gauges arrive, so causes are those of the comparison as it stands and not kept with the enquiry.
"""

from __future__ import annotations

from dataclasses import dataclass

from ledger.comparing.findings.detectability import Detectability
from ledger.comparing.findings.finding import Finding
from ledger.enquiries.compared import try_month
from ledger.enquiries.covering import GAUGING_OF
from ledger.enquiries.models import Enquiry
from ledger.enquiries.opening import BY_HAND
from ledger.kept.compared_month import ComparedMonth
from ledger.kept.keeping import OPERATION_KEY
from ledger.models import Gauge, Movement
from ledger.periods import period_of
from ledger.statements.unaccounted_legs import VESSEL_ACCOUNT, gauge_key


@dataclass(frozen=True, slots=True)
class Looked:
    """A finding as it stands, and what could not have been seen at its operation with the present instruments."""

    finding: Finding | None
    not_seen: Detectability | None
    month: ComparedMonth | None
    not_compared: tuple[str, ...] = ()


def look_at(enquiry: Enquiry) -> Looked:
    """The month's finding with the enquiry's key; for one opened by hand, the gravest about its record."""
    tried = try_month(period_of(enquiry.happened_at))
    found = tried.findings
    finding = next((one for one in found if one.key == enquiry.key), None)
    if finding is None and enquiry.kind == BY_HAND:
        finding = next((one for one in found if enquiry.record_number in (one.record, *one.under)), None)
    return Looked(finding, tried.unseen(enquiry.record_number), tried.month, tried.not_compared)


def place_of(finding: Finding) -> tuple[str, str]:
    """Kind and number of the record whose entries hold the difference; its cause may stand on another record."""
    if finding.key.startswith(OPERATION_KEY):
        number = finding.key.removeprefix(OPERATION_KEY)
        found = Movement.objects.filter(record_number=number, operation=finding.operation).order_by("-pk").first()
        return (found.record_kind, number) if found is not None else (finding.record_kind, finding.record)
    if finding.operation.startswith(GAUGING_OF):
        vessel = finding.operation.removeprefix(GAUGING_OF)
        there = Gauge.objects.standing().filter(account__code=f"{VESSEL_ACCOUNT}{vessel}", happened_at=finding.at)
        for gauge in there.select_related("movement", "account").order_by("-position"):
            if gauge_key(gauge) == finding.key.partition(":")[2]:
                return gauge.movement.record_kind, gauge.movement.record_number
    return finding.record_kind, finding.record
