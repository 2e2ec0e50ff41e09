"""What could explain a finding, as it is handed on: plain data, so that whoever shows it loads no statistics."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ComesTo:
    """What a gauge comes to with another value of one reading: litres at 20 °C, pure alcohol (LPA) with its standard
    uncertainty, % vol at 20 °C.
    """

    litres20: float
    lpa: float
    percent20: float
    uncertainty_lpa: float


@dataclass(frozen=True, slots=True)
class Neighbour:
    """The other gauge of the vessel that a wrong reading shows at: what its book would be apart once the reading is
    right (LPA, missing positive), what it is apart now, and whether the first is within three standard deviations.
    """

    record: str
    record_kind: str
    leaves_lpa: float
    now_lpa: float
    agrees: bool


@dataclass(frozen=True, slots=True)
class Likely:
    """One cause: the record and column of a wrong figure, what stands written, what it would be, what that leaves
    (LPA). Of a reading also what it is called by itself, what its gauge would come to, and what the next gauge says.
    """

    cause: str
    record: str
    field: str
    written: str
    would_be: str
    leaves_lpa: float
    record_kind: str = ""
    vessel: str = ""
    is_loss: bool = False
    reading: str = ""
    comes_to: ComesTo | None = None
    neighbour: Neighbour | None = None


@dataclass(frozen=True, slots=True)
class CauseLine:
    """Causes that the figures cannot tell apart, how much better all closes with them (T), and what would tell."""

    causes: tuple[Likely, ...]
    statistic: float
    look_next: str
