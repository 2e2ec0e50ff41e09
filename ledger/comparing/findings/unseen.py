"""What could not have been seen, as it is handed on: plain data with its sentence."""

from __future__ import annotations

from dataclasses import dataclass

from distillery.figures import lpa, number
from distillery.plant.models import MICRO


@dataclass(frozen=True, slots=True)
class BetterInstrument:
    """A better instrument and the smallest loss that would then be seen in nine of ten, LPA."""

    instrument: str
    detectable: float


@dataclass(frozen=True, slots=True)
class Detectability:
    """The smallest loss of one operation seen in nine of ten at the level of a finding, LPA, and as a share of the
    charge; better instruments, the one that buys most first.
    """

    record: str
    detectable: float
    charge: float
    better: tuple[BetterInstrument, ...]

    @property
    def sentence(self) -> str:
        """Both in words."""
        share = f" ({number(100 * self.detectable / self.charge, 1)} % of what went in)" if self.charge else ""
        said = (
            f"A loss of {lpa(round(self.detectable * MICRO))} LPA{share} in this operation shows in nine cases of ten; "
            "a smaller one could not be told from measurement as surely."
        )
        if self.better and self.better[0].detectable < 0.95 * self.detectable:
            best = self.better[0]
            said += f" With {best.instrument}: {lpa(round(best.detectable * MICRO))}."
        return said
