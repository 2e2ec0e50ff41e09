"""A sheet that has been read: what it means, what is wrong or unlikely about it; and one that cannot be written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from batches.sheets.sheet import Moment, Note, Problem
from batches.sheets.typed.completed import Completed


class Unfit(Exception):
    """A sheet that cannot be written as it stands; nothing was written. `problems` says all that is wrong."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__(" ".join(problem.sentence for problem in problems))
        self.problems = list(problems)


@dataclass(slots=True)
class Filled:
    """A sheet that has been read: what it means, what is wrong with it, what is unlikely about it."""

    completed: Completed
    typed: dict[str, str]
    rows: list[dict[str, str]]
    claimed: list[Moment]
    problems: list[Problem] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    # Where on the page each line stands, counted from 0: blank lines are left out of `rows`.
    places: list[int] = field(default_factory=list)

    def require(self) -> Filled:
        """Itself, or Unfit with all its problems."""
        if self.problems:
            raise Unfit(self.problems)
        return self
