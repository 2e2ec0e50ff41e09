"""The lists of findings of a month and of enquiries."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery
from django.urls import reverse
from django.utils.text import capfirst

from distillery import pages
from distillery.lists.columns import DifferenceColumn, ListColumn, LpaColumn, MomentColumn
from distillery.lists.filters import DayFilter, HouseFilters, MonthFilter, OneOfFilter, RowFilter, TextFilter
from distillery.lists.tables import HouseTable
from ledger.comparing.findings.finding import (
    CONTINUITY,
    COUNT,
    ENQUIRY,
    GAUGE_AGAIN,
    LIKENESS,
    TIME,
    WATCH,
    Finding,
)
from ledger.enquiries.models import Enquiry, EnquiryEvent
from ledger.enquiries.standing import DECIDES, UNANSWERED, Standing, State, standings
from ledger.views.enquiries.parts import state_mark
from ledger.views.ways import record_href

# What each kind asks for, in the order of the page.
KINDS = {
    ENQUIRY: ("To be answered", "Beyond the review threshold, and more than the instruments could be wrong by."),
    CONTINUITY: ("A gauge apart from its book", "Something moved and was not written down, or a reading was wrong."),
    COUNT: ("Bottled stock apart from its book", "Counted in two names; bottles are missing or over."),
    TIME: ("A time that cannot be right yet", "Later than the clock when it was written, or before its book began."),
    LIKENESS: ("A figure unlike its kind", "It may be right. Look at it before it is lost in a total."),
    WATCH: ("Small losses that lean one way", "No single one is large. Together they are more than chance."),
    GAUGE_AGAIN: ("To be gauged again", "Beyond the review threshold, but the readings are too rough to say."),
}
ANSWERED, WITH_ENQUIRY, WITHOUT = "answered", "with an enquiry", "no enquiry"


@dataclass(frozen=True, slots=True)
class Shown:
    """A finding in the list of a month, with its enquiry if it has one."""

    one: Finding
    period: str
    standing: Standing | None

    @property
    def href(self) -> str:
        if self.standing is not None:
            return enquiry_href(self.standing.enquiry)
        return reverse("finding", kwargs={"period": self.period, "record": self.one.record})

    @property
    def mark(self) -> pages.State | None:
        if self.standing is not None and self.standing.state not in UNANSWERED:
            return None
        return pages.OUT if self.one.kind == ENQUIRY else pages.LOOK

    @property
    def threshold_ul(self) -> int | None:
        """None where none is set; that of a count may be nothing, so that every bottle is looked into."""
        set_to_nothing = self.one.kind == COUNT and bool(self.one.basis)
        return self.one.threshold_ul or (0 if set_to_nothing else None)

    @property
    def how(self) -> str:
        """What has become of it: no enquiry, one that is not answered, or an answer."""
        if self.standing is None:
            return WITHOUT
        return WITH_ENQUIRY if self.standing.state in UNANSWERED else ANSWERED


def shown(found: Sequence[Finding], period: str, under: Mapping[str, Standing]) -> list[Shown]:
    """Findings of a month with their enquiries, by kind in the order of the page and the most serious first."""
    place = {kind: number for number, kind in enumerate(KINDS)}
    rows = [Shown(one, period, under.get(one.key)) for one in found]
    return sorted(rows, key=lambda row: place.get(row.one.kind, len(place)))


def enquiry_href(enquiry: Enquiry) -> str:
    """The page of an enquiry."""
    return reverse("enquiry", kwargs={"number": enquiry.number})


def _in_words(row: Shown) -> str:
    return f"{row.standing.enquiry.number} {row.standing.in_words}" if row.standing is not None else WITHOUT


class FindingTable(HouseTable):
    """What is to be looked into in a month."""

    record = ListColumn("Record", "one__record", href=lambda row: row.href, state=lambda row: row.mark)
    asks = ListColumn("What", lambda row: KINDS.get(row.one.kind, (capfirst(row.one.kind), ""))[0])
    operation = ListColumn("Operation", lambda row: capfirst(row.one.operation), order=("one__operation",))
    happened = MomentColumn("Happened", "one__at", order=("one__at",))
    difference = DifferenceColumn("Difference", "one__difference_ul", order=("one__difference_ul",))
    threshold = LpaColumn("Review threshold", lambda row: row.threshold_ul, none="none")
    doubt = LpaColumn("± two standard uncertainties", lambda row: round(2 * row.one.uncertainty_ul))
    sentence = ListColumn("In short", "one__sentence")
    state = ListColumn(
        "State", _in_words, href=lambda row: enquiry_href(row.standing.enquiry) if row.standing is not None else ""
    )

    name = "findings"
    caption = "To be looked into"
    note = "most serious first"
    nothing = "Nothing is beyond its review threshold."
    nothing_fits = "No findings match. Clear the filter."


class FindingFilters(HouseFilters):
    """By what it asks for, and by what became of it."""

    kind = RowFilter(
        label="What", read=lambda row: row.one.kind, choices=lambda: [(kind, said) for kind, (said, _) in KINDS.items()]
    )
    state = RowFilter(
        label="State",
        read=lambda row: row.how,
        choices=lambda: [(one, one.capitalize()) for one in (WITHOUT, WITH_ENQUIRY, ANSWERED)],
    )


class EnquiryTable(HouseTable):
    """Enquiries, the newest first."""

    number = ListColumn("Enquiry", "number", order=("pk",), href=enquiry_href)
    record = ListColumn("Record", "record_number", href=lambda row: record_href(row.record_kind, row.record_number))
    operation = ListColumn("Operation", lambda row: capfirst(row.operation))
    happened = MomentColumn("Happened", "happened_at")
    opened = MomentColumn("Opened", "opened_at")
    difference = DifferenceColumn("Difference", lambda row: row.difference_ul or None)
    said = ListColumn("What", "said")
    state = ListColumn(
        "State",
        lambda row: "" if state_mark(row.stands) else row.stands.in_words,
        state=lambda row: state_mark(row.stands),
    )

    name = "enquiries"
    caption = "Enquiries"
    note = "difference: that of the day it was opened"
    nothing = "No enquiry yet. The program opens one where a difference has to be answered; a person may open more."
    nothing_fits = "No enquiries match. Clear the filter."

    class Meta(HouseTable.Meta):
        order_by = ("-number",)

    def prepare(self, rows: Sequence[Any]) -> None:
        for row, standing in zip(rows, standings(rows), strict=True):
            row.stands = standing


class StateFilter(OneOfFilter):
    """Enquiries that stand so; how one stands is what its last deciding event says."""

    def filter(self, rows: Any, value: Any) -> Any:
        if not value:
            return rows
        deciding = EnquiryEvent.objects.filter(enquiry=OuterRef("pk"), what__in=list(DECIDES)).order_by("-serial")
        rows = rows.annotate(decided=Subquery(deciding.values("what")[:1]))
        those = rows.filter(decided__in=[what for what, state in DECIDES.items() if state == value])
        return rows.filter(decided=None) | those if value == State.OPEN else those


class EnquiryFilters(HouseFilters):
    """By how they stand, when it happened and the record."""

    state = StateFilter("pk", label="State", choices=lambda: [(str(one), str(one).capitalize()) for one in State])
    month = MonthFilter("happened_at")
    since = DayFilter("opened_at", label="Opened from")
    until = DayFilter("opened_at", label="Opened to", until=True)
    record = TextFilter("record_number", label="Record has")


def all_enquiries() -> QuerySet[Enquiry]:
    """Every enquiry, with who opened it."""
    return Enquiry.objects.select_related("opened_by")


def others_of(found: Sequence[Standing]) -> list[Enquiry]:
    """Enquiries of a month that no finding shows any more, in their order."""
    return [one.enquiry for one in found]


OTHERS = "Other enquiries of the month"
OTHERS_NOTE = "opened by hand, about a closed month, or no longer shown by the figures"
