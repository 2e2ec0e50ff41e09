"""What is to be said of a record in one line each: usual, gauge again, or an enquiry and how it stands."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from django.urls import reverse

from distillery.pages import LOOK, State
from ledger.enquiries.looking import try_months
from ledger.enquiries.standing import Standing, about_keys_and_records
from ledger.periods.calendar import Calendar
from ledger.views.enquiries.parts import state_mark

USUAL = "Usual: nothing here is beyond its review threshold."


@dataclass(frozen=True, slots=True)
class Said:
    """One line: a mark where somebody has to look, the sentence, and where to read on."""

    state: State | None
    sentence: str
    text: str
    href: str


@dataclass(frozen=True, slots=True)
class SaidOfRecord:
    """The lines of a record, none where all is usual, and why a finding may be missing, where one may.

    `compared` is False where its figures cannot be compared just now, `being_compared` true while they are.
    """

    lines: list[Said]
    not_compared: tuple[str, ...]
    compared: bool
    being_compared: bool


def verdicts(record_kind: str, record_number: str, happened: Collection[datetime]) -> SaidOfRecord:
    """Findings that name the record in the periods it was posted in, and enquiries on it.

    `happened` says when what stands of it in the books took place.
    """
    calendar = Calendar.read()
    tried = try_months(calendar.period_of(at) for at in happened)
    named = (one for each in tried for one in each.findings if record_number in (one.record, one.found_again))
    found = list({one.key: one for one in named}.values())
    about = about_keys_and_records([one.key for one in found], [(record_kind, record_number)])
    keys = {one.key for one in found}
    standings = {one.enquiry.key: one for one in about if one.enquiry.key in keys}
    said = []
    for one in found:
        standing = standings.get(one.key)
        if standing is None:
            href = reverse("finding", kwargs={"period": calendar.period_of(one.at), "record": one.record})
            state = State(LOOK.kind, one.kind.capitalize())
            said.append(Said(state, one.sentence, "What would explain it", href))
        else:
            said.append(_of_enquiry(standing, one.sentence))
    said += [_of_enquiry(one, one.enquiry.said) for one in about if one.enquiry.key not in standings]
    return SaidOfRecord(
        said,
        tuple(sentence for each in tried for sentence in each.not_compared),
        all(each.month is not None for each in tried),
        any(each.is_behind for each in tried),
    )


def _of_enquiry(standing: Standing, sentence: str) -> Said:
    number = standing.enquiry.number
    href = reverse("enquiry", kwargs={"number": number})
    return Said(state_mark(standing), sentence, f"Enquiry {number}, {standing.in_words}", href)
