"""What a step makes of what is written on a record, beside its gauges and its books: what it comes to, weights wanted,
what a name needs, what has to be reported. Small tables, worked out anew from the record, from others and from dated
rules whenever they are looked at; nothing of them is posted or kept, and none is part of a digest.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from distillery.pages import Fact, Kind, State
from distillery.process.product_names import Checked, Outcome


@dataclass(frozen=True, slots=True)
class Head:
    """The head of one column of a result; a `figure` stands to the right."""

    label: str
    unit: str = ""
    figure: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a result, as many cells as there are heads, and its state where there is something to say of it."""

    cells: tuple[str, ...]
    state: State | None = None
    href: str = ""


@dataclass(frozen=True, slots=True)
class Result:
    """A small table under a heading. `note` is said beside it; `said_in` is the column in which the state of a line
    stands and from which it leads elsewhere.
    """

    heading: str
    heads: tuple[Head, ...]
    lines: tuple[Line, ...]
    note: str = ""
    said_in: int = 0


# Of what was written so far (a `Completed`) at a moment, or nothing where it says too little.
Makes = Callable[[Any, datetime], Result | None]

COMES_TO: Final = "What it comes to"
FACT_HEADS: Final = (Head("What"), Head("Figure", figure=True), Head("Unit"), Head("Said of it"))

PASS: Final = "Pass"
# What passes looks like nothing.
STATES: Final = {
    Outcome.FAIL: State(Kind.OUT, "Fail"),
    Outcome.NOT_PROVEN: State(Kind.MISSING, "Not proven"),
}
CHECK_HEADS: Final = (Head("Requirement"), Head("Comes to"), Head("Found"), Head("By"), Head("Source"))


def comes_to(facts: Callable[[Any, datetime], Sequence[Fact]]) -> Makes:
    """The facts that a step works out, one a line: what, figure, unit, and what is said of it."""

    def made(written: Any, now: datetime) -> Result | None:
        lines = tuple(
            Line((one.label, one.text, one.unit, one.note), one.state, one.href) for one in facts(written, now)
        )
        return Result(COMES_TO, FACT_HEADS, lines, said_in=1)

    return made


def checks_of(heading: str, checked: Sequence[Checked], note: str = "") -> Result:
    """What a name asks for, line by line: the requirement, what it comes to, what was found, by what, its source."""
    return Result(heading, CHECK_HEADS, tuple(_checked(one) for one in checked), note, said_in=1)


def _checked(one: Checked) -> Line:
    word = PASS if one.outcome == Outcome.PASS else ""
    source = f"{one.requirement.code}: {one.requirement.source}"
    return Line((_asked(one), word, one.found, one.proof, source), STATES.get(one.outcome))


def _asked(one: Checked) -> str:
    asked = one.requirement
    said = f"{asked.said[:1].upper()}{asked.said[1:]}"
    if asked.limit is None:
        return said
    limit = f"{asked.limit:.1f}" if asked.limit % 1 or "vol" in asked.unit else f"{asked.limit:.0f}"
    return f"{said} {asked.way} {limit} {asked.unit}".strip()
