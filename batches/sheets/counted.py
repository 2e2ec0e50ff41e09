"""What a sheet says of stock takes: what was counted at one is posted by it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Counted(StrEnum):
    """What a stock take counts: a vessel by its dip, a cask by its weight, a lot of bottles by number."""

    VESSEL = "vessel"
    CASK = "cask"
    BOTTLES = "bottles"


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedBy:
    """Counts of one thing are posted by this sheet: its fields for when, and for the vessel, the cask, or how many
    bottles were found.
    """

    what: Counted
    when: str
    item: str
