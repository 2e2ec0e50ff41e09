"""The parts of an enquiry's page: facts, causes, readings, history and what was done."""

from __future__ import annotations

from collections import defaultdict

from django.urls import reverse

from distillery.figures import difference, litres, lpa, moment, percent
from distillery.pages import ONE_OF_TWO, Cell, Column, Fact, Link, Row, State, Table
from distillery.pages import Kind as Mark
from distillery.plant.models import MICRO
from ledger.comparing.findings.finding import Finding
from ledger.enquiries.balance import Open, by_period, standing_explanations
from ledger.enquiries.covering import GAUGING_OF, covered, shares
from ledger.enquiries.figures_now import Earlier, figures_now, is_about_a_figure
from ledger.enquiries.models import Ending, Enquiry, EnquiryEvent, EnquiryRun, What
from ledger.enquiries.seen import correction_of
from ledger.enquiries.standing import Standing
from ledger.enquiries.standing import State as Stands
from ledger.enquiries.whole import LEAST_CHANGE
from ledger.models import Movement
from ledger.periods.calendar import name_of, period_of
from ledger.views.enquiries.finding_parts import (
    beside_usual_facts,
)
from ledger.views.left_facts import left_facts
from ledger.views.ways import record_href

PROGRAM = "the program"
IN_THE_BOOKS = "Difference in the books now"
NOT_FOUND_WORDS = (
    "No cause was found. Alcohol that cannot be accounted for, without an explanation that is accepted, may bear duty: "
    "the law and the officer decide. Tell the officer, and keep what was checked."
)


def state_mark(standing: Standing) -> State | None:
    """How it stands as a mark with its words; an ended one looks like nothing."""
    if standing.state == Stands.OPEN:
        return State(Mark.WATCH, "open")
    if standing.state == Stands.WAITING:
        return State(Mark.WAITING, f"{ONE_OF_TWO.word}: {standing.state}")
    return None


def is_answer(standing: Standing) -> bool:
    """True where what decided it last says how it ends."""
    return standing.decided is not None and bool(standing.decided.ending)


def facts(enquiry: Enquiry, left: Open, earlier: Earlier, finding: Finding | None) -> list[Fact]:
    """What an enquiry is about: its record, its difference as it stands, what that is judged by."""
    by = enquiry.opened_by.shown_name if enquiry.opened_by else PROGRAM
    facts = [
        Fact("Record", enquiry.record_number, href=record_href(enquiry.record_kind, enquiry.record_number)),
        Fact("Operation", enquiry.operation),
        Fact("Happened", moment(enquiry.happened_at, year=True)),
        Fact("Opened", moment(enquiry.opened_at, year=True), note=f"by {by}"),
    ]
    if finding is not None and finding.beside_usual is not None:
        facts += beside_usual_facts(finding.beside_usual)
    if is_about_a_figure(enquiry):
        # The record may have a difference too, which is none of this.
        return facts
    now = figures_now(enquiry, earlier)
    if now is None:
        facts.append(Fact(IN_THE_BOOKS, difference(left.left_ul), "LPA"))
        facts += _explained(left)
    else:
        facts += left_facts(
            left.left_ul,
            left.explained_ul,
            against=(now.judged_against, now.charge_ul),
            threshold_ul=now.threshold_ul,
            basis=now.basis,
            uncertainty_ul=now.uncertainty_ul,
            name=IN_THE_BOOKS,
        )
    facts += _over_a_close(enquiry)
    if enquiry.difference_ul and enquiry.difference_ul != left.left_ul:
        facts.append(Fact("Difference when it was opened", difference(enquiry.difference_ul), "LPA"))
    if now is not None and enquiry.threshold_ul not in (0, now.threshold_ul):
        facts.append(Fact("Review threshold when it was opened", lpa(enquiry.threshold_ul), "LPA"))
    return facts


def _explained(left: Open) -> list[Fact]:
    if not left.explained_ul:
        return []
    return [
        Fact("Explained", difference(left.explained_ul), "LPA"),
        Fact("Still open", difference(left.open_ul), "LPA"),
    ]


def facts_of_the_whole(enquiry: Enquiry, left: Open) -> list[Fact]:
    """What an enquiry about a watch is about: all its runs together."""
    runs = covered(enquiry)
    by = enquiry.opened_by.shown_name if enquiry.opened_by else PROGRAM
    facts = [
        Fact("Operation", enquiry.operation),
        Fact("Runs", str(len(runs)), note=", ".join(run.record_number for run in runs)),
        Fact("Since", moment(runs[0].happened_at, year=True), note=f"until {moment(runs[-1].happened_at, year=True)}"),
        Fact("Opened", moment(enquiry.opened_at, year=True), note=f"by {by}"),
        Fact("Lasting difference in all", difference(left.left_ul), "LPA"),
        *_explained(left),
    ]
    facts.append(Fact("Two standard uncertainties", lpa(2 * enquiry.uncertainty_ul), "LPA"))
    if abs(enquiry.difference_ul - left.left_ul) >= LEAST_CHANGE:
        facts.append(Fact("Lasting difference when it was opened", difference(enquiry.difference_ul), "LPA"))
    return facts


def runs_table(enquiry: Enquiry, left: Open) -> Table:
    """The runs it covers, and how much of it is each one's share."""
    share: dict[int, int] = defaultdict(int)
    for one in shares(enquiry, left.left_ul, as_found=True):
        share[one.run.pk] += one.pure_ul
    runs = covered(enquiry)
    posted = {(one.record_kind, one.record_number): one for one in standing_explanations(enquiry)}
    each = enquiry.operation.startswith(GAUGING_OF)
    return Table(
        caption="Runs it covers",
        note="a share goes by the alcohol that went in, and is never more than the run's own difference",
        columns=(
            Column("Record"),
            Column("Happened"),
            *([] if each else [Column("Alcohol in", numeric=True, unit="LPA")]),
            Column("Its share", numeric=True, unit="LPA"),
            *([Column("Explained by movement")] if posted else []),
        ),
        rows=[
            Row(
                [
                    Cell(run.record_number, href=record_href(run.record_kind, run.record_number)),
                    Cell(moment(run.happened_at, year=True)),
                    *([] if each else [Cell(lpa(run.charge_ul))]),
                    Cell(difference(share[run.pk])),
                    *([_movement_of(run, posted)] if posted else []),
                ]
            )
            for run in runs
        ],
        total=Row(
            [
                Cell("Total"),
                Cell(""),
                *([] if each else [Cell(lpa(sum(run.charge_ul for run in runs)))]),
                Cell(difference(sum(share.values()))),
                *([Cell("")] if posted else []),
            ],
            total=True,
        ),
        empty="It covers no run.",
    )


def _movement_of(run: EnquiryRun, posted: dict[tuple[str, str], Movement]) -> Cell:
    found = posted.get((run.record_kind, run.record_number))
    return Cell("") if found is None else Cell(str(found.pk), href=reverse("movement", kwargs={"number": found.pk}))


def _over_a_close(enquiry: Enquiry) -> list[Fact]:
    """The difference by the months that bear it, where a close came between."""
    borne = by_period(enquiry)
    if len(borne) < 2 and all(period == period_of(enquiry.happened_at) for period, _ in borne):
        return []
    return [Fact(f"of it in the account of {name_of(period)}", difference(amount), "LPA") for period, amount in borne]


def proposal_facts(event: EnquiryEvent) -> list[Fact]:
    """An ending as proposed or agreed to."""
    facts = [
        Fact("How it ends", Ending(event.ending).label),
        *([Fact("What was checked", event.checked)] if event.checked else []),
        Fact("Reason", event.text),
        Fact("Proposed" if event.what == What.PROPOSED else "Agreed", moment(event.at, year=True), note=_by(event)),
    ]
    if event.ending == Ending.LOSS and event.percent_millionths and event.happened_at:
        strength = event.percent_millionths / MICRO
        liquid = abs(event.pure_ul) / MICRO * 100 / strength
        facts[1:1] = [
            Fact("Cause", event.cause),
            Fact("Lost at", moment(event.happened_at, year=True)),
            Fact("Product", event.product),
            Fact("Alcohol", lpa(abs(event.pure_ul), 4), "LPA", note="booked back" if event.pure_ul < 0 else ""),
            Fact("Volume", litres(liquid, 2), "L at 20 °C"),
            Fact("Strength", percent(strength), "% vol"),
        ]
    correction = correction_of(event)
    if correction is not None:
        href = record_href(correction.record_kind, correction.record_number)
        facts.insert(1, Fact("Correction of", event.record, href=href, note=correction.reason))
    if event.other is not None:
        href = reverse("enquiry", kwargs={"number": event.other.number})
        facts.insert(1, Fact("With", event.other.number, href=href))
    if event.movement is not None:
        href = reverse("movement", kwargs={"number": event.movement.pk})
        facts.append(Fact("Posted as movement", str(event.movement.pk), href=href))
    return facts


def _by(event: EnquiryEvent) -> str:
    return f"by {event.person.shown_name if event.person else PROGRAM}"


def events_table(enquiry: Enquiry, events: list[EnquiryEvent]) -> Table:
    """What was done, first to last."""
    by = enquiry.opened_by.shown_name if enquiry.opened_by else PROGRAM
    rows = [
        Row([Cell(moment(enquiry.opened_at, year=True)), Cell("Opened"), Cell(enquiry.said), Cell(""), Cell(by)]),
        *(
            Row(
                [
                    Cell(moment(event.at, year=True)),
                    Cell(What(event.what).label),
                    Cell(_said(event)),
                    _see(event),
                    Cell(event.person.shown_name if event.person else PROGRAM),
                ]
            )
            for event in events
        ),
    ]
    return Table(
        caption="What was done",
        note="nothing here is changed or removed",
        columns=(Column("When"), Column("What"), Column("In words"), Column("See"), Column("By")),
        rows=rows,
        empty="Nothing was done yet.",
        wide=True,
    )


def _said(event: EnquiryEvent) -> str:
    parts = []
    if event.ending and event.what in (What.PROPOSED, What.AGREED):
        parts.append(f"{Ending(event.ending).label}{f', {event.cause}' if event.cause else ''}.")
    if event.text:
        parts.append(event.text)
    if event.checked and event.what == What.PROPOSED:
        parts.append(f"Checked: {event.checked}")
    return " ".join(parts)


def _see(event: EnquiryEvent) -> Cell:
    if event.movement is not None:
        href = reverse("movement", kwargs={"number": event.movement.pk})
        return Cell(f"movement {event.movement.pk}", href=href)
    if event.other is not None:
        return Cell(event.other.number, href=reverse("enquiry", kwargs={"number": event.other.number}))
    return Cell(event.record)


def enquiry_link(standing: Standing) -> Link:
    """The way to an enquiry, with how it stands."""
    number = standing.enquiry.number
    return Link(f"Enquiry {number}", reverse("enquiry", kwargs={"number": number}), note=standing.in_words)
