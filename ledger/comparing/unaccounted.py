"""What an operation or a gauge left unaccounted for: the one answer lists, pages, findings, enquiries and paper give.

Of an operation: the difference that its legs left, what its step says that is judged against, the review threshold in
force then, and the standard uncertainty. Of a gauge: what it found against its vessel's book, and how sure that is.
Whole microlitres of pure alcohol at 20 °C.

The uncertainty is that of the readings alone. A reading that stands in two gauges is one reading, what lasts in an
instrument is common to all that was measured with it, and measured flows count like gauges (JCGM 100:2008, 5.2). Only
the quantities of this one balance go into it, so it is the same whoever asks.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import fsum, sqrt

from distillery.plant.models import MICRO
from distillery.rules.cask_loss import beyond_band
from distillery.rules.models import ONE, ReviewThreshold
from ledger.comparing.model.equations import Equation, Term, equations_of, quantities
from ledger.comparing.model.usual_losses import ExpectedLoss, ExpectedLossOf, expected_losses_of_rules
from ledger.comparing.observations.around_record import log_near, log_of_records, log_of_rows, log_of_vessel
from ledger.comparing.observations.observed import Log, Measured, ObservedGauge
from ledger.comparing.statistics.algebra.problem import RowKind
from ledger.models import Gauge, MeasuredFlow, Movement
from ledger.posting.drafts import THE_BOOK

__all__ = [
    "THE_BOOK",
    "GaugeFound",
    "OperationLeft",
    "found_at",
    "found_by_record",
    "found_in_vessel",
    "left_by_records",
    "left_by_rows",
    "left_of",
    "operations_left",
    "threshold_ul",
    "uncertainty_ul",
]


@dataclass(frozen=True, slots=True)
class OperationLeft:
    """What one record's operation left, missing positive.

    `explained_ul` is what answered enquiries have taken out of it since; `threshold_ul` is 0 where the site has set no
    review threshold.
    """

    record: str
    record_kind: str
    operation: str
    at: datetime
    difference_ul: int
    explained_ul: int
    judged_against: str
    charge_ul: int
    threshold_ul: int
    uncertainty_ul: int
    basis: str

    @property
    def open_ul(self) -> int:
        """What of the difference nobody has explained yet."""
        return self.difference_ul - self.explained_ul

    @property
    def share(self) -> float:
        """The difference as a share (1 is all) of what it is judged against; 0 where that is nothing."""
        return self.difference_ul / self.charge_ul if self.charge_ul else 0.0

    @property
    def is_beyond(self) -> bool:
        """True where the difference is beyond its review threshold."""
        return abs(self.difference_ul) > self.threshold_ul > 0


@dataclass(frozen=True, slots=True)
class GaugeFound:
    """What one gauge found more (positive) or less than its vessel's book, restatements counted in.

    `key` is that of its line, which a finding and its enquiry have too. `explained_ul` is what answered enquiries have
    taken out of it since, missing positive as everywhere else.
    """

    key: str
    record: str
    record_kind: str
    vessel: str
    name: str
    at: datetime
    found_ul: int
    explained_ul: int
    contents_ul: int
    uncertainty_ul: int

    @property
    def difference_ul(self) -> int:
        """The same as a difference: missing positive."""
        return -self.found_ul

    @property
    def open_ul(self) -> int:
        """What of the difference nobody has explained yet."""
        return self.difference_ul - self.explained_ul

    @property
    def book_ul(self) -> int:
        """What a gauge is judged against: the book it met, with all that was restated since."""
        return self.contents_ul - self.found_ul


def left_of(line: Equation, log: Log, values: Mapping[str, Measured], usual: ExpectedLoss | None) -> OperationLeft:
    """What the operation of a line left. `values` are the measured quantities as written."""
    record = line.doing.record
    judged = log.judged_against.get(record)
    charge_ul = round(judged.lpa * MICRO) if judged is not None else 0
    beyond_ul = 0
    if usual is not None:
        # The share of a rule is a whole number of millionths, which a float gives back.
        beyond_ul = max(charge_ul * round(usual.threshold_share * ONE) // ONE, round(usual.floor_lpa * MICRO))
    return OperationLeft(
        record=record,
        record_kind=line.doing.record_kind,
        operation=line.doing.operation,
        at=line.at,
        difference_ul=_difference_ul(line, log, values, usual),
        explained_ul=round(log.explained.get(record, 0.0) * MICRO),
        judged_against=judged.name if judged is not None else "",
        charge_ul=charge_ul,
        threshold_ul=beyond_ul,
        uncertainty_ul=uncertainty_ul(line.terms, values),
        basis=usual.basis if usual is not None else "",
    )


def found_at(line: Equation, log: Log, values: Mapping[str, Measured]) -> GaugeFound:
    """What the gauge of a continuity line found. `values` are the measured quantities as written."""
    gauge = log.events[line.order]
    assert isinstance(gauge, ObservedGauge), "a continuity line stands at its gauge"
    found = _sum(line.terms, values) if gauge.found is None else gauge.found
    return GaugeFound(
        key=line.key,
        record=line.doing.record,
        record_kind=line.doing.record_kind,
        vessel=line.vessel,
        name=gauge.name,
        at=line.at,
        found_ul=round(found * MICRO),
        explained_ul=round(log.explained.get(gauge.measured.key, 0.0) * MICRO),
        contents_ul=round(gauge.measured.lpa * MICRO),
        uncertainty_ul=uncertainty_ul(line.terms, values),
    )


def threshold_ul(rule: ReviewThreshold | None, charge_ul: int) -> int:
    """A review threshold for so much alcohol judged against: a share of it, or the floor; 0 where none is set."""
    return 0 if rule is None else max(charge_ul * rule.threshold_millionths // ONE, rule.floor_ul)


def uncertainty_ul(terms: Iterable[Term], values: Mapping[str, Measured]) -> int:
    """Standard uncertainty of a sum of measured quantities by their readings, each source once with its signs."""
    effects: dict[str, list[float]] = defaultdict(list)
    for term in terms:
        for reading in values[term.quantity].readings:
            moved = term.factor * reading.lpa
            effects[reading.key].append(moved * reading.own_uncertainty)
            if reading.lasting:
                effects[f"lasting: {reading.instrument} {reading.part}"].append(moved * reading.lasting_uncertainty)
    # Exact sums, so that the order in which the books were read moves no digit.
    return round(sqrt(fsum(fsum(parts) ** 2 for parts in effects.values())) * MICRO)


def operations_left(log: Log, usual_of: ExpectedLossOf) -> dict[str, OperationLeft]:
    """What each operation of a log left, by record."""
    values = quantities(log)
    return {
        line.doing.record: left_of(line, log, values, usual_of(line))
        for line in equations_of(log)
        if line.kind is RowKind.OPERATION
    }


def left_by_records(numbers: Collection[str]) -> dict[str, OperationLeft]:
    """What the operations of some records left, by number; those that are not finished or balance nothing are left out.

    A dozen or so queries, however many records.
    """
    return _left(log_of_records(numbers))


def left_by_rows(
    movements: Collection[Movement], gauges: Sequence[Gauge], measures: Sequence[MeasuredFlow]
) -> dict[str, OperationLeft]:
    """The same for records whose standing operations, gauges and measured flows have been read, with their accounts."""
    return _left(log_of_rows(movements, gauges, measures))


def _left(log: Log) -> dict[str, OperationLeft]:
    return operations_left(log, expected_losses_of_rules(dict(log.casks)))


def found_in_vessel(vessel: str, upto: datetime, last: int) -> list[GaugeFound]:
    """What the last so many gauges of a vessel up to a moment found against its book, in order of time."""
    log = log_of_vessel(vessel, upto, last + 1)
    values = quantities(log)
    lines = [line for line in equations_of(log) if line.kind is RowKind.CONTINUITY and line.vessel == vessel]
    # The first of them all has none before it in this log.
    return [found_at(line, log, values) for line in lines if line.since >= 0][-last:]


def found_by_record(number: str) -> list[GaugeFound]:
    """What each gauge of a record found against its vessel's book, in order of time.

    The first gauge of a vessel is left out, and one that found it empty as its book had it.
    """
    log = log_near([number])
    values = quantities(log)
    lines = [line for line in equations_of(log) if line.kind is RowKind.CONTINUITY and line.doing.record == number]
    return [found_at(line, log, values) for line in lines]


def _difference_ul(line: Equation, log: Log, values: Mapping[str, Measured], usual: ExpectedLoss | None) -> int:
    posted = log.differences.get(line.doing.record)
    if posted is not None:
        return round(posted * MICRO)
    if log.is_posted:
        # Measured to the microlitre as the books had it.
        return 0
    short = _sum(line.terms, values)
    if usual is not None and usual.most is not None:
        short = beyond_band(short, usual.most * _sum(line.charge, values))
    return round(short * MICRO)


def _sum(terms: Iterable[Term], values: Mapping[str, Measured]) -> float:
    return fsum(term.factor * values[term.quantity].lpa for term in terms)
