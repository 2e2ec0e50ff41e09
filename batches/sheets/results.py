"""What a record comes to or asks for beside its gauges and its books: weights wanted, what a name needs, what has to be
reported. Reckoned from what stands on it and from dated rules whenever it is looked at; nothing of it is kept.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from distillery.process.product_names import Checked, Outcome


@dataclass(frozen=True, slots=True)
class Head:
    """The head of one column of a reckoning; a `figure` stands to the right."""

    label: str
    unit: str = ""
    figure: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a reckoning, as many cells as there are heads, and what it comes to where it is a check."""

    cells: tuple[str, ...]
    outcome: Outcome | None = None


@dataclass(frozen=True, slots=True)
class Reckoning:
    """A small table under a heading. `note` is said beside it."""

    heading: str
    heads: tuple[Head, ...]
    lines: tuple[Line, ...]
    note: str = ""

    @property
    def checks(self) -> bool:
        """True where its lines come to something."""
        return any(one.outcome is not None for one in self.lines)


# Of what was written so far (a `Completed`), or nothing where it says too little.
Reckon = Callable[[Any], Reckoning | None]


def checks_of(heading: str, checked: Sequence[Checked], note: str = "") -> Reckoning:
    """What a name asks for, line by line: the requirement, what was found, by what, and its source."""
    heads = (Head("Requirement"), Head("Found"), Head("By"), Head("Source"))
    lines = tuple(
        Line((_asked(one), one.found, one.proof, f"{one.requirement.code}: {one.requirement.source}"), one.outcome)
        for one in checked
    )
    return Reckoning(heading, heads, lines, note)


def _asked(one: Checked) -> str:
    asked = one.requirement
    said = f"{asked.said[:1].upper()}{asked.said[1:]}"
    if asked.limit is None:
        return said
    limit = f"{asked.limit:.1f}" if asked.limit % 1 or "vol" in asked.unit else f"{asked.limit:.0f}"
    return f"{said} {asked.way} {limit} {asked.unit}".strip()
