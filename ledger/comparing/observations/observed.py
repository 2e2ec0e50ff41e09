"""What the comparing sees of the books: gauges and measured flows with their readings, in the order they happened.

Taken from the ledger by `from_ledger`; nothing here asks the database. Litres of pure alcohol (LPA), % vol at 20 °C,
litres at 20 °C; readings in their own units. A reading is named by the record and the column it stands in, so that a
temperature used for two dips, or the gravities of a fermentation used in every run from it, is one reading with one
error.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from math import sqrt

from msgspec import Struct

BEFORE, AFTER = "before", "after"
# What the accounts begin with that take what an operation leaves.
DIFFERENCE = "difference:"


class ObservedReading(Struct, frozen=True):
    """One reading of a gauge or flow: where it stands, what was written, how sure, and what one unit of it moves.

    `lpa` and `percent` are the sensitivities of this gauge to it, LPA and % vol per unit of the reading. `lasting` is
    the share (0 to 1) of its variance that is common to all readings of the instrument.
    """

    key: str
    part: str
    record: str
    column: str
    instrument: str
    value: float
    unit: str
    uncertainty: float
    lpa: float
    percent: float
    typed: str
    lasting: float = 0.0

    @property
    def own_uncertainty(self) -> float:
        """Standard uncertainty of this reading by itself, without what lasts in its instrument."""
        return self.uncertainty * sqrt(1.0 - self.lasting)

    @property
    def lasting_uncertainty(self) -> float:
        """What lasts in its instrument, as a standard uncertainty of the reading."""
        return self.uncertainty * sqrt(self.lasting)


class Measured(Struct, frozen=True):
    """One measured quantity: what a vessel held, or what flowed, with the readings it was found by."""

    key: str
    method: str
    vessel: str
    lpa: float
    percent: float
    litres20: float
    readings: tuple[ObservedReading, ...]
    chain: str = ""

    @property
    def empty(self) -> bool:
        """True where nothing was found."""
        return self.lpa <= 0.0

    def reading(self, part: str) -> ObservedReading | None:
        """The reading of one part (dip_mm, celsius, hydrometer_percent ...), if there is one."""
        return next((one for one in self.readings if one.part == part), None)


class Doing(Struct, frozen=True):
    """The record an event belongs to: one operation of the plant."""

    record: str
    record_kind: str
    operation: str
    period: str


class ObservedGauge(Struct, frozen=True):
    """A gauge of a vessel, before or after what its operation does. `found` is what the ledger says it found (LPA)."""

    doing: Doing
    at: datetime
    position: int
    vessel: str
    name: str
    role: str
    measured: Measured
    found: float | None = None
    movement: int = 0


class ObservedFlow(Struct, frozen=True):
    """A measured flow from one account to another (pot ale, bottles, a cask by weight)."""

    doing: Doing
    at: datetime
    position: int
    giver: str
    taker: str
    measured: Measured
    movement: int = 0

    @property
    def empties_a_cask(self) -> bool:
        """True where a cask is weighed out into the operation itself."""
        return self.taker.startswith(DIFFERENCE)


class ObservedFigure(Struct, frozen=True):
    """A figure of an operation with what is expected of it: about equal if all is well, within `spread`.

    `parts` are the readings (keys) it hangs on, with the sensitivity of the figure to each.
    """

    doing: Doing
    at: datetime
    position: int
    name: str
    like: str
    beside: str
    column: str
    unit: str
    value: float
    expected: float | None
    spread: float | None
    parts: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class ObservedCask:
    """What a cask is: its kind, nominal litres, warehouse."""

    kind: str
    nominal_litres: float
    warehouse: str


@dataclass(frozen=True, slots=True)
class ObservedCharge:
    """What a record's difference is judged against: in words, LPA, and its own gauges that add up to it."""

    name: str
    lpa: float
    parts: tuple[tuple[str, int], ...]


Event = ObservedGauge | ObservedFlow
Key = tuple[datetime, int]


@dataclass(frozen=True, slots=True)
class Log:
    """All that is compared: events in order of time, figures, and what the ledger holds against each record.

    `differences` is record -> LPA its operation left by its legs, where `is_posted`. `explained` is record, or key of a
    gauge, -> LPA that answered explanations have taken out of what it left or found, and `explained_of_casks` what of
    it was of casks weighed beyond their band as the record emptied them, which no balance holds. `judged_against` is
    record -> what its step says it is judged by.
    `in_period` are the records judged; others are there because the vessels' last gauges before the period stand on
    them. `unfinished` have alcohol in a still yet. By `sources` alcohol came into the books: nothing stands on their
    other side to balance. Where only a part is read, `followed` says from which gauge to which a vessel's are all there
    (None: of all vessels), and `cut` which of them were gauged before that.
    """

    events: Sequence[Event]
    figures: Sequence[ObservedFigure] = ()
    differences: Mapping[str, float] = field(default_factory=dict)
    is_posted: bool = False
    explained: Mapping[str, float] = field(default_factory=dict)
    explained_of_casks: Mapping[str, float] = field(default_factory=dict)
    judged_against: Mapping[str, ObservedCharge] = field(default_factory=dict)
    casks: Mapping[str, ObservedCask] = field(default_factory=dict)
    stills: frozenset[str] = frozenset()
    in_period: frozenset[str] | None = None
    table_ends: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    unfinished: frozenset[str] = frozenset()
    sources: frozenset[str] = frozenset()
    followed: Mapping[str, tuple[Key, Key]] | None = None
    cut: frozenset[str] = frozenset()

    def joins(self, gauge: ObservedGauge) -> bool:
        """Whether a gauge can be compared with the one before it in the log, or with an empty vessel."""
        if self.followed is None:
            return True
        if gauge.vessel not in self.followed:
            return False
        first, last = self.followed[gauge.vessel]
        key = gauge.at, gauge.position
        return first < key <= last or (key == first and gauge.vessel not in self.cut)

    def judged(self, record: str) -> bool:
        """Whether this record is one of the period's own."""
        return self.in_period is None or record in self.in_period
