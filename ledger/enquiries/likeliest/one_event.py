"""Two enquiries that may be one event: missing at one place, found at another.

Losses and surpluses are set off only where they are shown to be related, each with written reasons, and their amounts
are never netted in silence (alcoholic products technical guide, section 14). The program points to a pair and says what
is left between the two; people say what shows it.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot
from typing import Final

from ledger.enquiries.balance import open_of
from ledger.enquiries.models import Enquiry
from ledger.enquiries.standing import State, of_period
from ledger.models import AccountKind, Leg

# As many as are shown beside an enquiry; others are tied on a page of their own.
MOST: Final = 3
COVERAGE: Final = 2


@dataclass(frozen=True, slots=True)
class OneEvent:
    """Another enquiry that may be about the same alcohol: what is open here, there, and between the two; microlitres,
    missing positive.
    """

    other: Enquiry
    here_ul: int
    there_ul: int

    @property
    def left_ul(self) -> int:
        """What is left when one is set off against the other."""
        return self.here_ul + self.there_ul


def may_be_one_event(enquiry: Enquiry, here_ul: int) -> list[OneEvent]:
    """Open enquiries of the same month that lost what this one found, or found what it lost, at a vessel both touch.

    Only where what is left between the two is within two standard uncertainties of both, or within the review threshold
    of either: more than that is no one event. The nearest in amount first.
    """
    if not here_ul:
        return []
    others = [
        one.enquiry
        for one in of_period(enquiry.period)
        if one.state == State.OPEN and one.enquiry.pk != enquiry.pk and one.enquiry.difference_ul * here_ul < 0
    ]
    others.sort(key=lambda one: abs(one.difference_ul + here_ul))
    found = []
    for other in _beside(enquiry, others):
        there_ul = open_of(other).open_ul
        sure_ul = COVERAGE * hypot(enquiry.uncertainty_ul, other.uncertainty_ul)
        apart_ul = max(sure_ul, enquiry.threshold_ul, other.threshold_ul)
        if there_ul * here_ul < 0 and abs(here_ul + there_ul) <= apart_ul:
            found.append(OneEvent(other, here_ul, there_ul))
        if len(found) == MOST:
            break
    return found


def _beside(enquiry: Enquiry, others: list[Enquiry]) -> list[Enquiry]:
    """Those whose record has an entry on a vessel that the enquiry's own has one on."""
    if not others:
        return []
    numbers = {enquiry.record_number, *(one.record_number for one in others)}
    legs = Leg.objects.filter(movement__record_number__in=numbers, account__kind=AccountKind.VESSEL)
    touched: dict[str, set[int]] = {}
    for number, account in legs.values_list("movement__record_number", "account_id").distinct():
        touched.setdefault(number, set()).add(account)
    own = touched.get(enquiry.record_number, set())
    return [one for one in others if own & touched.get(one.record_number, set())]
