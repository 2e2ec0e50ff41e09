"""What came of a load: what it added, or all that was wrong with the folder."""

from __future__ import annotations

from dataclasses import dataclass, field

from batches.loading.tables import BadRow


class BadRows(Exception):
    """A folder that cannot be loaded as it stands; nothing was changed."""

    def __init__(self, bad: list[BadRow], *, and_more: bool = False) -> None:
        super().__init__(f"{len(bad)} bad rows; nothing was loaded.")
        self.bad = bad
        # So much was wrong that looking further was given up.
        self.and_more = and_more


@dataclass(slots=True)
class Loaded:
    """What a load added, and what it found there already."""

    records: dict[str, int] = field(default_factory=dict)
    plant: dict[str, int] = field(default_factory=dict)
    readings: int = 0
    passed_over: int = 0
    # How the books' clock was set by this load, and what in it is ahead of that clock, each in one sentence or blank.
    books_clock: str = ""
    ahead: str = ""
