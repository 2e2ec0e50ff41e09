"""Reads the loss register of a period."""

from __future__ import annotations

from ledger.enquiries.covering import OPERATION
from ledger.enquiries.models import Enquiry, EnquiryEvent, What
from ledger.enquiries.register.counted import counted
from ledger.enquiries.register.differences import differences_of
from ledger.enquiries.register.lines import Register
from ledger.enquiries.register.losses import liquids, loss_line
from ledger.enquiries.standing import of_period, standings
from ledger.models import AccountKind


def loss_register(period: str) -> Register:
    """The register of one month; the number of queries does not depend on the month."""
    legs = list(counted(period, AccountKind.LOSS))
    # An enquiry about a closed month may be answered, or come up again, in this one.
    answered = {leg.movement.moment for leg in legs if leg.movement.operation == OPERATION}
    rows = {one.enquiry.pk: one for one in of_period(period)}
    rows |= {one.enquiry.pk: one for one in standings(Enquiry.objects.filter(number__in=answered))}
    enquiries = [rows[number] for number in sorted(rows)]
    lost = liquids(legs)
    products = dict(
        EnquiryEvent.objects.filter(what=What.AGREED, movement__in={leg.movement_id for leg in legs}).values_list(
            "movement_id", "product"
        )
    )
    lines = [loss_line(leg, lost.get(leg.pk), products.get(leg.movement_id, "")) for leg in legs]
    differences, within = differences_of(period, enquiries)
    return Register(
        period=period,
        losses=tuple(line for line in lines if line.pure_ul > 0),
        gains=tuple(line for line in lines if line.pure_ul < 0),
        differences=tuple(differences),
        within_count=len(within),
        within_missing_ul=sum(amount for amount in within if amount > 0),
        within_extra_ul=sum(amount for amount in within if amount < 0),
        enquiries=tuple(enquiries),
    )
