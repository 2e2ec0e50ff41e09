"""What could explain a finding, as it is handed on: plain data, so that whoever shows it loads no statistics."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Likely:
    """One cause: the record and column of a wrong figure, what stands written, what it would be, what that leaves
    (LPA).
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


@dataclass(frozen=True, slots=True)
class CauseLine:
    """Causes that the figures cannot tell apart, how much better all closes with them (T), and what would tell."""

    causes: tuple[Likely, ...]
    statistic: float
    look_next: str
