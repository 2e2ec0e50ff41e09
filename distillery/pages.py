"""What a part of a page is given to show: states, tables, facts, links and the balance line.

Plain frozen values without arithmetic, so that one structure can feed a page, a table of text and a printed
sheet; the templates under templates/parts show them. Text arrives as written by `distillery.figures`. The
balance line alone carries whole microlitres of pure alcohol: its seven figures are always written alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """The states a figure or a thing can be in. A normal one has none, and looks like nothing."""

    WATCH = "watch"
    OUT = "out"
    ACT = "act"
    MISSING = "missing"
    LATE = "late"
    STRUCK = "struck"
    ESTIMATE = "estimate"
    # Begun and going on: a word in ink, since nothing is wrong with it.
    OPEN = "open"
    WAITING = "waiting"
    LOCKED = "locked"


@dataclass(frozen=True, slots=True)
class State:
    """A kind with the word that is read beside its mark."""

    kind: Kind
    word: str


LOOK = State(Kind.WATCH, "Look")
OUT = State(Kind.OUT, "Out")
ESTIMATE = State(Kind.ESTIMATE, "est")
ONE_OF_TWO = State(Kind.WAITING, "1 of 2")
CLOSED = State(Kind.LOCKED, "Closed")


def missing(what: str) -> State:
    """A reading that was due and is not there: 'Missing 01:30'."""
    return State(Kind.MISSING, f"Missing {what}")


def late(by: str) -> State:
    """An entry written well after it happened: 'Late 1 h 40 min'."""
    return State(Kind.LATE, f"Late {by}")


@dataclass(frozen=True, slots=True)
class Link:
    """A way to another page, with what is said beside it (a share, a quantity, a date).

    Of a place in a strip: `within` are the places inside it, shown while it is `current`.
    """

    text: str
    href: str
    note: str = ""
    current: bool = False
    within: Sequence[Link] = ()


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing known about a record: its label and its value."""

    label: str
    text: str
    unit: str = ""
    href: str = ""
    note: str = ""
    state: State | None = None


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table; figures stand right-aligned under a numeric one."""

    label: str
    numeric: bool = False
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell. An absent value has a text that says why ('Not taken').

    `struck` is the value a correction replaced, `note` the letter of its footnote.
    """

    text: str
    href: str = ""
    state: State | None = None
    struck: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """The cells of one line, as many as there are columns; the first one names the line."""

    cells: Sequence[Cell]
    total: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A captioned table. `empty` is the sentence shown when there are no rows: it says what to do."""

    caption: str
    columns: Sequence[Column]
    rows: Sequence[Row]
    empty: str
    note: str = ""
    total: Row | None = None
    wide: bool = False


@dataclass(frozen=True, slots=True)
class BalanceLine:
    """The seven figures of every account, in whole microlitres of pure alcohol; the ledger works them out.

    `measured_ul` and `difference_ul` are None while nothing has been measured. `measured_label` says what it is called
    where more of it stands by its book than was measured.
    """

    opening_ul: int
    in_ul: int
    out_ul: int
    known_losses_ul: int
    should_be_ul: int
    measured_ul: int | None
    difference_ul: int | None
    state: State | None = None
    note: str = ""
    measured_label: str = "Measured"


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer to a question put by the program: a button that sends `name` as `value`."""

    text: str
    name: str
    value: str
