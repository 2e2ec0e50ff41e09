"""What an enquiry's page opens with: the answer, the ways to act on it, what else fits, what may be the same event."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse
from django.utils.text import capfirst

from distillery.figures import difference, difference_said, lpa
from distillery.pages import Cell, Column, Link, Row, Table
from distillery.plant.models import MICRO
from ledger.comparing.findings.finding import COUNT, Finding
from ledger.comparing.findings.fitting import fit_beside
from ledger.comparing.findings.likely import CauseLine, Likely
from ledger.enquiries.likeliest.answer import Answer, Words, what_of
from ledger.enquiries.likeliest.one_event import OneEvent
from ledger.enquiries.models import Enquiry
from ledger.enquiries.standing import Standing, State, of_period
from ledger.periods.calendar import is_closed, name_of
from ledger.views.enquiries.evidence import correction
from ledger.views.enquiries.finding_parts import with_unit
from ledger.views.ways import record_href
from ledger.words_of_columns import words_of

AS_WELL = "as well"
ENDS, TIES, ADDS = "end", "tie", "add"


@dataclass(frozen=True, slots=True)
class Shown:
    """The answer as the page has it: what the figures say, the sentence, how well it fits, and the buttons."""

    about: str
    said: tuple[Words, ...]
    fit: str
    look_next: str
    buttons: tuple[Link, ...]


def shown(
    enquiry: Enquiry, finding: Finding, answer: Answer, open_ul: int, *, may_end: bool, may_correct: bool
) -> Shown:
    """What stands at the top. The first button is the main one; where a loss fits as well as a reading, either is."""
    buttons = []
    reading = answer.reading
    if reading is not None and may_correct:
        name = reading.reading or words_of(reading.record_kind, reading.field).short
        buttons.append(Link(f"Correct the {name} to {reading.would_be}", _to_correct(enquiry, reading)))
    if may_end and answer.is_loss and open_ul:
        said = f"Answer {lpa(abs(open_ul))} LPA as {'lost' if open_ul > 0 else 'booked lost too much'}"
        buttons.insert(0, Link(said, to_act(enquiry, ENDS)))
    elif may_end:
        buttons.append(Link("It is something else", to_act(enquiry, ENDS)))
    if finding.kind == COUNT and may_correct:
        # Bottles are counted, not read: whoever counts the lot again knows the figure, and nothing here does.
        again = correction(finding.record_kind, finding.record, [], enquiry=enquiry.number).href
        buttons.insert(1 if answer.is_loss else 0, Link("Correct the count", again))
    return Shown(about(enquiry, finding, open_ul), answer.said, answer.fit, answer.look_next, tuple(buttons))


def to_act(enquiry: Enquiry, act: str) -> str:
    """The part of the page in which something is done, opened."""
    return f"{reverse('enquiry', args=[enquiry.number])}?do={act}#{act}"


def _to_correct(enquiry: Enquiry, one: Likely) -> str:
    name = f"{one.field}@{one.vessel}" if one.vessel else one.field
    return correction(one.record_kind, one.record, [(name, one.would_be)], enquiry=enquiry.number).href


def about(enquiry: Enquiry, finding: Finding, open_ul: int) -> str:
    """What the figures say, in one line: how much, what is usual, from where on it is looked into, where it is found
    again."""
    if not open_ul:
        return finding.sentence
    beside = [f"usual {lpa(abs(finding.usual_ul))}"] if finding.usual_ul else []
    beside += [f"looked into beyond {lpa(finding.threshold_ul)}"] if finding.threshold_ul else []
    said = f"{difference_said(open_ul)} in {enquiry.operation} {enquiry.record_number}"
    said += f" ({', '.join(beside)})" if beside else ""
    if finding.found_again:
        said += f"; {difference_said(-finding.found_again_ul)} at the next gauge, of {finding.found_again}"
    return f"{said}."


def else_table(enquiry: Enquiry, finding: Finding, answer: Answer, *, may_correct: bool) -> Table | None:
    """What fits besides the answer's own cause, best first, each with its way to be put right; None where nothing."""
    if not finding.lines:
        return None
    told = {id(answer.reading)} | {id(one) for one in finding.lines[0].causes if one.is_loss}
    if answer.reading is None and not answer.is_loss:
        told = {id(finding.lines[0].causes[0])}
    rows = [
        Row(
            [
                Cell(_said(cause)),
                Cell(cause.record, href=record_href(cause.record_kind or enquiry.record_kind, cause.record)),
                Cell(with_unit(cause, cause.written) or "nothing written"),
                Cell(with_unit(cause, cause.would_be) or "no figure"),
                Cell(difference(round(cause.leaves_lpa * MICRO))),
                Cell(_fits(line, finding.lines[0])),
                *([_way(enquiry, cause)] if may_correct else []),
            ]
        )
        for line in finding.lines
        for cause in line.causes
        if id(cause) not in told
    ]
    if not rows:
        return None
    return Table(
        caption="What else fits",
        note="best first; nothing changes until somebody acts on it",
        columns=(
            Column("What"),
            Column("Record"),
            Column("Written", numeric=True),
            Column("Would be", numeric=True),
            Column("Leaves", numeric=True, unit="LPA"),
            Column("Fits"),
            *([Column("Put it right")] if may_correct else []),
        ),
        rows=rows,
        empty="Nothing else fits.",
        wide=True,
    )


def _said(cause: Likely) -> str:
    return capfirst(what_of(cause)) if cause.field and cause.reading else capfirst(cause.cause)


def _fits(line: CauseLine, first: CauseLine) -> str:
    return AS_WELL if line is first else str(fit_beside(line.statistic, first.statistic))


def _way(enquiry: Enquiry, cause: Likely) -> Cell:
    if not (cause.field and cause.would_be and cause.record_kind):
        return Cell("on its record")
    return Cell(f"Correct to {cause.would_be}", href=_to_correct(enquiry, cause))


def events_table(enquiry: Enquiry, pairs: list[OneEvent]) -> Table | None:
    """Other enquiries that may be the same event, the amounts apart and what is left between the two."""
    if not pairs:
        return None
    return Table(
        caption="May be one event",
        note="missing at one place, found at another; the amounts stay apart until people show that the two belong "
        "together",
        columns=(
            Column("Enquiry"),
            Column("About"),
            Column("Here", numeric=True, unit="LPA"),
            Column("There", numeric=True, unit="LPA"),
            Column("Left between the two", numeric=True, unit="LPA"),
            Column("Answer both"),
        ),
        rows=[
            Row(
                [
                    Cell(one.other.number, href=reverse("enquiry", args=[one.other.number])),
                    Cell(f"{one.other.operation} {one.other.record_number}"),
                    Cell(difference(one.here_ul)),
                    Cell(difference(one.there_ul)),
                    Cell(difference(one.left_ul)),
                    Cell("Set off here against there", href=f"{_with(enquiry, one)}"),
                ]
            )
            for one in pairs
        ],
        empty="None goes the other way.",
    )


def _with(enquiry: Enquiry, one: OneEvent) -> str:
    return f"{reverse('enquiry', args=[enquiry.number])}?do={ENDS}&with={one.other.number}#{ENDS}"


def next_step(standing: Standing) -> Link | None:
    """What is next once this one is answered: the next enquiry of the period, or the closing of it."""
    if standing.state in (State.OPEN, State.WAITING):
        return None
    period = standing.enquiry.period
    if is_closed(period):
        return None
    left = [one.enquiry for one in of_period(period) if one.state in (State.OPEN, State.WAITING)]
    if left:
        note = f"{len(left)} of {name_of(period)} still to be answered"
        return Link(f"Next: {left[0].number}, {left[0].record_number}", reverse("enquiry", args=[left[0].number]), note)
    said = f"No enquiry of {name_of(period)} is left to be answered"
    return Link(f"To the closing of {name_of(period)}", reverse("close_period", kwargs={"period": period}), said)
