"""What a person has before them who agrees to an ending, or ties two enquiries: words, by label, that are signed."""

from __future__ import annotations

from collections.abc import Sequence

from distillery.figures import difference_said, lpa, moment, percent
from distillery.plant.models import MICRO
from distillery.printing.furniture import grouped
from ledger.enquiries.balance import open_of
from ledger.enquiries.models import Ending, Enquiry, EnquiryEvent
from ledger.enquiries.standing import UNANSWERED, history, of_period
from ledger.models import Movement, MovementKind

NOTHING = "nothing"
# A record that was made void has only the opposite of what it posted.
CORRECTED_BY = (MovementKind.OPERATION, MovementKind.CORRECTION)


def ending_as_seen(enquiry: Enquiry, proposed: EnquiryEvent) -> dict[str, str]:
    """An ending that is proposed, and the difference it is about as the books have it now."""
    shown = {
        "Enquiry": f"{enquiry.number}: {enquiry.said}",
        "How it ends": Ending(proposed.ending).label,
        "What was checked": proposed.checked,
        "Reason": proposed.text,
        "Proposed": f"{moment(proposed.at, year=True)}, entry {proposed.serial}",
        "Difference open here": difference_said(open_of(enquiry).open_ul, 4),
    }
    if proposed.person is not None:
        shown["Proposed by"] = proposed.person.shown_name
    if proposed.ending == Ending.LOSS and proposed.happened_at is not None:
        shown |= {
            "Cause": proposed.cause,
            "Lost at": moment(proposed.happened_at, year=True),
            "Product": proposed.product,
            "Alcohol": f"{lpa(proposed.pure_ul, 4)} LPA",
            "Strength": f"{percent((proposed.percent_millionths or 0) / MICRO)} % vol",
        }
    if proposed.other is not None:
        shown["With"] = proposed.other.number
        shown["Difference open there"] = difference_said(open_of(proposed.other).open_ul, 4)
    correction = correction_of(proposed)
    if correction is not None:
        # The digest of the version that was posted: whoever corrects the record again moves it on.
        shown["Correction of"] = f"{proposed.record}, {correction.reason}, {grouped(correction.record_digest)}"
    return shown


def open_as_seen(enquiry: Enquiry, open_ul: int, done: Sequence[EnquiryEvent]) -> dict[str, str]:
    """What is open of one enquiry, microlitres, and what was done about it last."""
    last = f"entry {done[-1].serial}" if done else NOTHING
    return {enquiry.number: f"{difference_said(open_ul, 4)}, open, last done: {last}"}


def correction_of(proposed: EnquiryEvent) -> Movement | None:
    """The newest entry of the record whose correction waits for a second person; None for any other ending."""
    if proposed.ending != Ending.CORRECTED:
        return None
    written = Movement.objects.filter(record_number=proposed.record, kind__in=CORRECTED_BY)
    return written.order_by("-pk").first()


def tie_as_seen(enquiry: Enquiry) -> dict[str, str]:
    """The enquiries of a month that can be tied with one, and itself: what is open there and what was done."""
    shown = {}
    for one in of_period(enquiry.period):
        if one.enquiry.pk == enquiry.pk or one.state in UNANSWERED:
            done = history(one.enquiry)
            last = f"entry {done[-1].serial}" if done else NOTHING
            open_here = difference_said(open_of(one.enquiry).open_ul, 4)
            shown[one.enquiry.number] = f"{one.in_words}, {open_here}, open, last done: {last}"
    return shown
