"""When goods that are missing reached their duty point: when they went missing, or when that was discovered.

The second where the time cannot be found (Excise Goods (Holding, Movement and Duty Point) Regulations 2010, SI
2010/593, regulations 5, 6(1)(a), 7(1)(j) and 8; HMRC manual HMAG150401). What an operation leaves went missing at it;
what a gauge or a count finds beside the book went missing some time before, and is discovered by it. Rules are dated
rows of the site.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

from distillery.rules.names import Duty, duties

LOSS: Final = "loss"
DUTY_POINT: Final = "duty point"
SET_OFF: Final = "set-off"
DESTROYED: Final = "destroyed or irretrievably lost"


@dataclass(frozen=True, slots=True)
class DutyPoint:
    """The day, and how it is known."""

    day: date
    by_discovery: bool

    @property
    def in_words(self) -> str:
        """How the day is known."""
        return "when it was found" if self.by_discovery else "when it went missing"


def duty_point(*, went_missing: date | None, discovered: date) -> DutyPoint:
    """The duty point of what is missing; `went_missing` is None where that day cannot be found."""
    return DutyPoint(discovered, True) if went_missing is None else DutyPoint(went_missing, False)


def rules_of_loss(on: date) -> list[Duty]:
    """What the law says of losses on a day: the duty point, set-off, destruction."""
    return duties(LOSS, on, DUTY_POINT, SET_OFF, DESTROYED)
