"""One thing to look into, as a page, a command and an enquiry are handed it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from math import floor, log10

from distillery import figures
from distillery.plant.models import MICRO
from ledger.comparing.findings.likely import CauseLine, Likely

ENQUIRY, GAUGE_AGAIN, CONTINUITY = "enquiry", "gauge again", "continuity"
WATCH, LIKENESS, TIME, COUNT = "watch", "likeness", "time", "count"
_ORDER = {ENQUIRY: 0, CONTINUITY: 1, COUNT: 2, TIME: 3, WATCH: 4, LIKENESS: 5, GAUGE_AGAIN: 6}


@dataclass(frozen=True, slots=True)
class Run:
    """One run of what lasts: when it happened, and the alcohol that went in (the same for each where gauges count)."""

    record: str
    record_kind: str
    at: datetime
    charge_ul: int


@dataclass(frozen=True, slots=True)
class BesideUsual:
    """A figure that is no alcohol, a strength or a figure of a kind, beside what is usual: all in `unit`.

    `uncertainty` is the standard uncertainty of how far the two are apart: of the readings behind them, and of how far
    such figures stray.
    """

    name: str
    figure: float
    usual: float
    uncertainty: float
    unit: str

    @property
    def apart(self) -> float:
        """How far the figure lies above (positive) or below what is usual."""
        return self.figure - self.usual

    def written(self, value: float) -> str:
        """A figure of this kind with the decimals its uncertainty makes worth writing."""
        return figures.number(value, max(1, min(4, 1 - floor(log10(self.uncertainty)))) if self.uncertainty else 1)

    @property
    def said(self) -> tuple[tuple[str, str], ...]:
        """What each figure is called and the figure itself, in `unit`, as page and paper write them."""
        higher = "above" if self.apart > 0 else "below"
        return (
            (f"{self.name[:1].upper()}{self.name[1:]}", self.written(self.figure)),
            ("Usual", self.written(self.usual)),
            ("Apart", f"{self.written(abs(self.apart))} {higher}"),
            ("Two standard uncertainties", self.written(2 * self.uncertainty)),
        )


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to look into. Microlitres of pure alcohol; missing is positive, over negative.

    The difference is what is open yet; `explained_ul` was taken out of it by answered enquiries. `in_ul` is what it is
    judged against, in words `judged_against`. All of them are those of `unaccounted`, as the readings were written.
    `key` names the place it shows and stays the same while causes are ranked anew. `lines` are its causes, best first,
    each with what cannot be told apart from it; `likely` the same flattened. `under` are other records that the same
    cause explains. A watch has `since` (earliest and latest run it may have begun with), the run that gave the signal
    as its record, all its `runs` in order of time, and `share` of each charge. One about a strength, or about a figure
    unlike its kind, has the figure itself in `beside_usual`. `usual_ul` is what such an operation loses as a rule;
    `others_statistic` the highest T of what stands on no line (None where nothing else was asked).
    """

    kind: str
    record: str
    record_kind: str
    operation: str
    at: datetime
    difference_ul: int
    uncertainty_ul: int
    threshold_ul: int
    in_ul: int
    basis: str
    state: str = "open"
    likely: tuple[Likely, ...] = ()
    found_again: str = ""
    found_again_ul: int = 0
    key: str = ""
    lines: tuple[CauseLine, ...] = ()
    under: tuple[str, ...] = ()
    since: tuple[str, ...] = ()
    share: float | None = None
    share_uncertainty: float | None = None
    total_ul: int | None = None
    statistic: float = 0.0
    row: str = ""
    runs: tuple[Run, ...] = ()
    judged_against: str = ""
    explained_ul: int = 0
    beside_usual: BesideUsual | None = None
    usual_ul: int = 0
    others_statistic: float | None = None

    @property
    def percent_of_in(self) -> float | None:
        """The difference as a share of what it is judged against, in percent."""
        return 100 * self.difference_ul / self.in_ul if self.in_ul else None

    @property
    def may_be_loss(self) -> bool:
        """True where alcohol really lost (or gained) explains it as well as any reading does: no figure tells which."""
        return bool(self.lines) and any(cause.is_loss for cause in self.lines[0].causes)

    @property
    def began(self) -> str:
        """The runs a watch may have begun with: 'SR0010 to SR0011', or one."""
        return " to ".join(dict.fromkeys(self.since))

    @property
    def sentence(self) -> str:
        """What is the matter, in one line."""
        way, size = figures.way(self.difference_ul), abs(self.difference_ul) / MICRO
        said = f"{figures.lpa(abs(self.difference_ul))} LPA {way}"
        if self.kind == GAUGE_AGAIN:
            return f"{said}, but the readings are too rough to say: gauge again."
        if self.kind == WATCH and self.share is not None:
            return f"{abs(100 * self.share):.2f} % of each charge {way} since {self.began}, {size:.1f} LPA in all."
        if self.kind == WATCH:
            return f"{size:.1f} LPA {way} in all at the gauges since {self.began}, a little each time."
        if self.kind == CONTINUITY and not self.difference_ul:
            return "The gauge found another strength than the vessel held."
        if self.kind == CONTINUITY:
            return f"The gauge found {said} against the book."
        if self.kind == COUNT:
            return f"The count found {said} against the book."
        if self.kind == TIME:
            return f"{self.likely[0].cause}."
        if self.kind == LIKENESS:
            return f"{self.operation.capitalize()}: unlike its kind."
        return f"{said} in this operation."


def in_order(found: Iterable[Finding]) -> list[Finding]:
    """Most serious first."""
    return sorted(found, key=lambda one: (_ORDER[one.kind], -abs(one.difference_ul), one.at))
