"""The parts a sheet is made of: sections of fields, lines that repeat, and the moments at which something is posted."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import Any

from batches.sheets.declared import DueBy, Field, Posting
from batches.sheets.gauges import Gauge

# What was written, as a step's function gets it: a `batches.sheets.typed.completed.Completed`. That class imports this
# module, so it cannot be named here; a test sees to it that every step names it.
Written = Any


Item = Field | Gauge


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A part of the sheet under one heading. All its fields belong to one moment of the record."""

    heading: str
    items: tuple[Item, ...]
    moment: str = ""
    caution: str = ""

    @property
    def fields(self) -> tuple[Field, ...]:
        """Its fields in order, those of gauges included."""
        return tuple(fields_of(self.items))

    @property
    def gauges(self) -> tuple[Gauge, ...]:
        """Its gauges in order."""
        return tuple(item for item in self.items if isinstance(item, Gauge))


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """Lines that repeat: the casks of a fill, the vessels of a stock take. `each` names what may stand only once, and
    where `within` is given only once within that: a lot in a basket. `least` are as many as there have to be.
    """

    heading: str
    one: str
    items: tuple[Item, ...]
    each: str
    within: str = ""
    moment: str = ""
    least: int = 1

    @property
    def fields(self) -> tuple[Field, ...]:
        """The fields of one line in order."""
        return tuple(fields_of(self.items))

    def named(self, line: Mapping[str, str]) -> str:
        """What tells one line from the others, in small letters; blank where nothing of it is written."""
        return " in ".join(typed for name in (self.each, self.within) if (typed := line.get(name, "").casefold()))

    @property
    def gauges(self) -> tuple[Gauge, ...]:
        """The gauges of one line."""
        return tuple(item for item in self.items if isinstance(item, Gauge))


class Phase(IntEnum):
    """The order of things that are written for the same minute: what fills a vessel comes before what draws from it.
    Within a phase the steps stand in the order of the process, and the moments of a sheet in their own.
    """

    OPENING = 0
    DELIVERY = 1
    BEGINNING = 2
    RUN_OFF = 3
    MOVE = 4
    CHARGE = 5
    COUNT = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """A point at which a record is complete enough to be posted. `when` is the field that says when it happened.

    `post` is the step's one function from what was written to what the ledger is told; None where no alcohol moves.
    `phase` is its place among moments written for the same minute. `optional`: it may never come, as the change of a
    receiver; a record is complete without it. `only_with`: it is to come where one of these fields is written, and
    never elsewhere, as the report of receipt of what went under bond. `due_by` says until when it has to come.
    `posts_where` is a field and what alone stands in it where alcohol moves: a sample that was put back, of all ends.
    """

    name: str
    label: str
    when: str
    phase: Phase
    post: Callable[[Written], Posting] | None = None
    optional: bool = False
    only_with: tuple[str, ...] = ()
    due_by: DueBy | None = None
    posts_where: tuple[str, str] | None = None

    def posts(self, typed: Mapping[str, str]) -> bool:
        """True where the moment of a record that says this goes to the books."""
        if self.post is None or self.posts_where is None:
            return self.post is not None
        name, said = self.posts_where
        return typed.get(name, "").strip().casefold() == said.casefold()

    @property
    def may_never_come(self) -> bool:
        """True of a moment without which some records are complete."""
        return self.optional or bool(self.only_with)

    def comes(self, typed: Mapping[str, str]) -> bool:
        """True where a record that says this has the moment before or behind it."""
        return not self.only_with or any(typed.get(name, "").strip() for name in self.only_with)


def fields_of(items: tuple[Item, ...]) -> Iterator[Field]:
    """The fields of these items in order, those of gauges included."""
    for item in items:
        if isinstance(item, Gauge):
            yield from item.fields
        else:
            yield item
