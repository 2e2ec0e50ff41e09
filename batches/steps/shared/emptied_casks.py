"""Casks measured and emptied: what each held, what evaporated of it as far as its age makes expected, and what it says.

What a cask holds less than its book is evaporation up to the most that its band expects, as at a regauge; what goes
beyond, and any gain, is part of the difference of what empties it. Pure alcohol in microlitres at 20 °C.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from batches.sheets.results import Head, Result
from batches.sheets.results import Line as ResultLine
from batches.sheets.sheet import Note, Problem
from batches.sheets.typed.completed import Completed, Written
from batches.steps.shared.books import Expected, book_without, expected_contents
from batches.steps.shared.cask_gauges import evaporated
from batches.steps.shared.judged import u95_of_difference
from distillery import figures
from distillery.alcoholometry.quantity import Quantity
from distillery.pages import Kind, State
from distillery.plant.models import Stage
from distillery.process.maturing import Gauged, beside_band
from distillery.rules.in_force import NoRuleInForce
from distillery.rules.models import ONE
from ledger.posting.accounts import AccountRef, loss
from ledger.posting.drafts import Book, Emptied, JudgedAgainst, Line, Moved

WOOD = "wood absorption"
SHOULD_HOLD = "what the casks should hold by now"
SAID = {
    Gauged.BELOW: State(Kind.OUT, "Below its band"),
    Gauged.GAINED: State(Kind.OUT, "Weigh again"),
    Gauged.HOLD: State(Kind.OUT, "Hold"),
}


@dataclass(frozen=True)
class Emptying:
    """One line of a record by which a cask is weighed, or its litres are measured, and it is emptied."""

    record: Completed
    line: Written

    @cached_property
    def account(self) -> AccountRef:
        """The account of the cask."""
        return self.line.account("cask")

    @cached_property
    def measured(self) -> Quantity:
        """What the cask held by its readings. Raises Ungaugeable."""
        return self.line.quantity("")

    @cached_property
    def book(self) -> Book:
        """What the books hold of it, this record left out."""
        return book_without(self.account, self.record.moment("at"), self.record.number)

    @cached_property
    def expected(self) -> Expected | None:
        """What it should hold by now; None where no band is known or it was never filled."""
        try:
            return expected_contents(self.line.vessel("cask"), self.record.moment("at"), without=self.record.number)
        except NoRuleInForce:
            return None

    @property
    def should_hold_ul(self) -> int:
        """The most likely contents, or its book where nothing is known of how it ages."""
        return self.book.pure_ul if self.expected is None else self.expected.middle_ul

    @property
    def said(self) -> Gauged:
        """What its readings say beside its band."""
        least = self.book.pure_ul if self.expected is None else self.expected.least_ul
        return beside_band(
            lpa=self.measured.pure_ul / ONE,
            least_lpa=max(0, least) / ONE,
            held_lpa=max(0, self.book.pure_ul) / ONE,
            u95_lpa=u95_of_difference(self.measured) / ONE,
        )

    def lines(self, into: AccountRef) -> tuple[Line, ...]:
        """What evaporated, what was weighed out into the operation, and the cask's book brought to nothing."""
        short_ul = self.book.pure_ul - self.measured.pure_ul
        short_g = self.book.mass_g - self.measured.mass_g
        before: tuple[Line, ...] = ()
        if short_ul < 0:
            # Found before it is weighed out, because no cask gives what its book does not hold.
            before = (Moved(into, self.account, _quantity(-short_ul, max(0, -short_g))),)
        else:
            before = evaporated(self.account, self.book, self.measured, self.expected)
        weighed = self.line.weighed(self.account, into, field="cask", name="before")
        return (*before, weighed, Emptied(self.account, into))


def emptyings(record: Completed) -> tuple[Emptying, ...]:
    """All casks that a record empties, by its lines."""
    return tuple(Emptying(record, line) for line in record.rows)


def judged_by_age(casks: Iterable[Emptying]) -> JudgedAgainst:
    """What the casks should hold by now, together."""
    return JudgedAgainst(SHOULD_HOLD, sum(one.should_hold_ul for one in casks))


def empty_already(casks: Iterable[tuple[int, Emptying]]) -> list[Problem]:
    """A cask that holds nothing in the books cannot be emptied."""
    return [
        Problem(
            "cask",
            row,
            f"Cask {one.line.vessel('cask').code} is empty in the books at that time; leave it out, or write its fill "
            "first.",
        )
        for row, one in casks
        if one.book.pure_ul <= 0
    ]


def to_look_at(casks: Iterable[tuple[int, Emptying]]) -> list[Note]:
    """What is asked before a cask is emptied that lies below its band, or holds more than it did."""
    notes = []
    for row, one in casks:
        code, held = one.line.vessel("cask").code, figures.lpa(one.measured.pure_ul)
        if one.said == Gauged.BELOW and one.expected is not None:
            said = (
                f"Cask {code} holds {held} litres of pure alcohol; at least {figures.lpa(one.expected.least_ul)} are "
                "expected. Look for a leak, measure it again, and write a regauge of it before it is emptied."
            )
        elif one.said in (Gauged.GAINED, Gauged.HOLD):
            said = (
                f"Cask {code} holds {held} litres of pure alcohol, more than the {figures.lpa(one.book.pure_ul)} of "
                "its book by more than its readings can be wrong. Is it this cask? Measure it again."
            )
        else:
            continue
        notes.append(Note(one.line.amount_of(""), row, said))
    return notes


def wood_kept(written: Completed, giver: AccountRef) -> tuple[Line | None, ...]:
    """What the wood is known to keep, by volume and strength, where it is written down."""
    if not (written.has("wood_litres") and written.has("wood_percent")):
        return ()
    kept = written.residue("wood_litres", "wood_percent", giver=giver, taker=loss(WOOD))
    return (None if kept is None else replace(kept, stage=Stage.MATURING),)


def wood_to_be_right(written: Completed) -> list[Problem]:
    """What the wood keeps says something only with its strength."""
    problems = []
    for there, blank in (("wood_litres", "wood_percent"), ("wood_percent", "wood_litres")):
        if written.has(there) and not written.has(blank):
            label, other = written.sheet.field(blank).label, written.sheet.field(there).label
            problems.append(Problem(blank, None, f"{label} is blank, but {other.lower()} is written; write both."))
    return problems


HEADS = (
    Head("Cask"),
    Head("Litres", "L", figure=True),
    Head("Strength", "% vol", figure=True),
    Head("Held", "LPA", figure=True),
    Head("Book", "LPA", figure=True),
    Head("Expected", "LPA", figure=True),
    Head("Least expected", "LPA", figure=True),
)


def each_cask(casks: Sequence[Emptying], heading: str) -> Result | None:
    """Each cask beside what it should hold, and all together."""
    if not casks:
        return None
    lines = [
        ResultLine(
            (
                one.line.vessel("cask").code,
                figures.litres(one.measured.litres20),
                figures.percent(one.measured.percent20),
                figures.lpa(one.measured.pure_ul),
                figures.lpa(one.book.pure_ul),
                figures.lpa(one.should_hold_ul),
                "" if one.expected is None else figures.lpa(one.expected.least_ul),
            ),
            SAID.get(one.said),
        )
        for one in casks
    ]
    lines.append(
        ResultLine(
            (
                "Together",
                figures.litres(sum(one.measured.litres20 for one in casks)),
                "",
                figures.lpa(sum(one.measured.pure_ul for one in casks)),
                figures.lpa(sum(one.book.pure_ul for one in casks)),
                figures.lpa(sum(one.should_hold_ul for one in casks)),
                "",
            )
        )
    )
    return Result(heading, HEADS, tuple(lines), "what is below the least expected is not evaporation", said_in=3)


def _quantity(pure_ul: int, mass_g: int) -> Quantity:
    return Quantity(pure_ul=pure_ul, mass_g=mass_g, litres20=0.0, percent20=0.0, uncertainty_ul=0.0)
