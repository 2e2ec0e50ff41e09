"""The month as rows, readings and usual losses: residuals, columns and covariance terms from the lines.

Symbols as in `statistics`: r a row's residual, f a reading's column. A row's residual is the sum of its measured
quantities less the usual loss; a reading's entry in it is the sum of factor times sensitivity over the quantities it
was used for. `BalanceModel` keeps both ways round, so that a window takes only what touches it, and a corrected reading
changes only the quantities it was used for.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, field, replace

from msgspec import Struct

from ledger.comparing.model.equations import Aspect, Equation, Term
from ledger.comparing.model.usual_losses import ExpectedLoss
from ledger.comparing.observations.observed import Log, Measured, ObservedReading
from ledger.comparing.statistics.algebra.problem import Reading, Row, UsualLoss
from ledger.comparing.statistics.faults.slips import Written

# A fault already found is taken out at its estimated size, and that size may still move by so many of its
# uncertainties.
_FREE = 30.0
# Where an error moves a figure by more than so many of its spreads, the figure's slopes no longer hold.
OUT_OF_REACH = 20.0
DIP = "dip_mm"
# Nobody wrote such a reading down (a strength that was known and not read), so it is hardly ever the cause.
UNWRITTEN_ODDS = 1e-6
# One that stands on a record of an earlier period has been judged before (common practice, no source).
EARLIER_ODDS = 0.05


class Known(Struct, frozen=True):
    """A reading as it stands on its record, and the measured quantities it was used for."""

    seen: ObservedReading
    vessel: str
    quantities: tuple[str, ...]
    # As `seen` has them; asked for in every window, so worked out once.
    own_uncertainty: float
    lasting_uncertainty: float
    lasts_in: str


def known_as(seen: ObservedReading, vessel: str, quantities: tuple[str, ...]) -> Known:
    """A reading with its uncertainties, in its own unit; `lasts_in` names the error it shares with its instrument."""
    lasts_in = f"{seen.instrument} {seen.part}" if seen.lasting else ""
    return Known(seen, vessel, quantities, seen.own_uncertainty, seen.lasting_uncertainty, lasts_in)


class Free(Struct, frozen=True):
    """A fault taken as found: its column, what of it was taken out of the rows, and the spread it is left free with.

    A wrong reading is corrected in its gauges, so `size` is 0 for one.
    """

    key: str
    column: Mapping[str, float]
    size: float
    spread: float


WrittenOf = Callable[[str], Written | None]


@dataclass(slots=True)
class BalanceModel:
    """Lines of a period with what enters them, as corrected so far."""

    log: Log
    equations: dict[str, Equation]
    values: dict[str, Measured]
    known: dict[str, Known]
    usual: dict[str, ExpectedLoss]
    entries: dict[str, dict[str, float]]
    columns: dict[str, dict[str, float]]
    residuals: dict[str, float]
    charges: dict[str, float]
    gaps: dict[str, list[Equation]]
    standing: dict[str, tuple[int, float]]
    free: list[Free] = field(default_factory=list)
    void: frozenset[str] | set[str] = frozenset()
    shifted: dict[str, float] = field(default_factory=dict)
    # Residuals before the faults found are taken out of them.
    as_measured: dict[str, float] = field(default_factory=dict)
    # Variances of rows without the faults left free, as far as they have been asked for.
    variances: dict[str, float] = field(default_factory=dict)
    # Which lines use a quantity or a reading; made when something is first measured anew.
    _users: dict[str, set[str]] = field(default_factory=dict)

    # -- what the statistics are handed

    def rows(self, keys: Collection[str]) -> list[Row]:
        """These rows, for a problem."""
        return [self._row(self.equations[key]) for key in keys]

    def entering(self, keys: Set[str], written: WrittenOf) -> tuple[list[Reading], list[UsualLoss]]:
        """What enters these rows: the readings that enter no others, which may be asked whether they are wrong, and
        what several rows share beside them.

        That is doubt about a usual loss, readings that reach beyond these rows, what lasts in instruments, and the
        faults already found with their sizes left free.
        """
        whole: list[Reading] = []
        reaching: list[UsualLoss] = []
        for key in dict.fromkeys(reading for row in keys for reading in self.entries[row]):
            known, column = self.known[key], self.columns[key]
            if column.keys() <= keys:
                odds = self._prior_odds(known.seen)
                whole.append(
                    Reading(
                        key, known.seen.column, known.own_uncertainty, column, written=written(key), prior_odds=odds
                    )
                )
            elif known.own_uncertainty:
                within = {row: value for row, value in column.items() if row in keys}
                reaching.append(UsualLoss(f"reaches out:{key}", key, known.own_uncertainty, within))
        return whole, [*self._usual_doubts(keys), *reaching, *self._shared(keys)]

    def _usual_doubts(self, keys: Iterable[str]) -> list[UsualLoss]:
        families: dict[str, dict[str, float]] = defaultdict(dict)
        for key in keys:
            if key in self.usual and self.usual[key].doubt:
                families[self.equations[key].family][key] = self.charges[key]
        return [
            UsualLoss(f"usual:{family}", family, self.usual[next(iter(charges))].doubt, charges)
            for family, charges in families.items()
        ]

    def _shared(self, keys: Set[str]) -> Iterator[UsualLoss]:
        for name, column in self.lasting_errors(keys).items():
            yield UsualLoss(f"instrument:{name}", name, 1.0, column)
        for one in self.free:
            column = {key: value for key, value in one.column.items() if key in keys}
            if column:
                yield UsualLoss(f"free:{one.key}", one.key, one.spread, column)

    def _prior_odds(self, seen: ObservedReading) -> float:
        if not seen.column:
            return UNWRITTEN_ODDS
        return 1.0 if self.log.judged(seen.record) else EARLIER_ODDS

    def lasting_errors(self, keys: Iterable[str]) -> dict[str, dict[str, float]]:
        """What one standard uncertainty of each instrument's lasting error does to these rows."""
        errors: dict[str, dict[str, float]] = {}
        for row in keys:
            for key, sensitivity in self.entries[row].items():
                known = self.known[key]
                if known.lasts_in:
                    column = errors.setdefault(known.lasts_in, {})
                    column[row] = column.get(row, 0.0) + sensitivity * known.lasting_uncertainty
        return errors

    def measured_variance(self, key: str) -> float:
        """Variance of one row by its readings alone. What lasts in an instrument is common to all its readings."""
        own = 0.0
        lasting: dict[str, float] = {}
        for reading, weight in self.entries[key].items():
            known = self.known[reading]
            own += (weight * known.own_uncertainty) ** 2
            if known.lasts_in:
                lasting[known.lasts_in] = lasting.get(known.lasts_in, 0.0) + weight * known.lasting_uncertainty
        return own + sum(error**2 for error in lasting.values())

    def variance(self, key: str) -> float:
        """V of one row by itself."""
        if key not in self.variances:
            own = self.equations[key].spread ** 2
            if key in self.usual:
                own += (self.usual[key].spread ** 2 + self.usual[key].doubt ** 2) * self.charges[key] ** 2
            self.variances[key] = self.measured_variance(key) + own
        return self.variances[key] + sum((one.spread * one.column[key]) ** 2 for one in self.free if key in one.column)

    def _row(self, line: Equation) -> Row:
        spread = line.spread
        if line.key in self.usual:
            spread = (spread**2 + (self.usual[line.key].spread * self.charges[line.key]) ** 2) ** 0.5
        return Row(line.key, line.kind, float(line.order), self.residuals[line.key], spread, line.label)

    # -- corrections

    def with_free(self, free: Sequence[Free]) -> BalanceModel:
        """The same model with just these faults taken out and left free."""
        again = replace(self, residuals=dict(self.residuals), free=list(free))
        stay = {id(one) for one in self.free} & {id(one) for one in free}
        moved = (one for one in (*self.free, *free) if one.size and id(one) not in stay)
        for key in {key for one in moved for key in one.column} - set(self.void):
            again.residuals[key] = self.as_measured[key] - again._found(key)
        return again

    def _found(self, key: str) -> float:
        """What the faults found take out of a row."""
        return sum(one.size * one.column[key] for one in self.free if one.size and key in one.column)

    def with_values(self, changed: Mapping[str, Measured], shifts: Mapping[str, float]) -> BalanceModel:
        """The same model with these quantities measured anew; `shifts` are readings and what was taken off them."""
        users = self._all_users()
        touched = {key for used in (*changed, *shifts) for key in users.get(used, ())}
        again = replace(
            self,
            values={**self.values, **changed},
            entries=dict(self.entries),
            residuals=dict(self.residuals),
            as_measured=dict(self.as_measured),
            charges=dict(self.charges),
            columns=dict(self.columns),
            variances=dict(self.variances),
            free=list(self.free),
            shifted={**self.shifted, **shifts},
        )
        again.void = self.void | {key for key in touched if self._is_out_of_reach(self.equations[key], shifts)}
        again._enter_again(touched)
        return again

    def with_void(self, keys: Iterable[str]) -> BalanceModel:
        """The same model without what these rows say."""
        again = replace(
            self,
            entries=dict(self.entries),
            residuals=dict(self.residuals),
            as_measured=dict(self.as_measured),
            charges=dict(self.charges),
            columns=dict(self.columns),
            variances=dict(self.variances),
        )
        again.void = self.void | set(keys)
        again._enter_again(set(keys))
        return again

    def _all_users(self) -> Mapping[str, Collection[str]]:
        """Which lines a quantity, or a reading that stands in them as such, is used in."""
        if not self._users:
            for line in self.equations.values():
                for term in (*line.terms, *line.charge):
                    self._users.setdefault(term.quantity, set()).add(line.key)
                for reading, _ in line.direct:
                    self._users.setdefault(reading, set()).add(line.key)
        return self._users

    def out_of_reach(self, line: Equation, sizes: Mapping[str, float]) -> bool:
        """Whether errors of these sizes would move a figure further than its slopes can be trusted.

        A figure worked out of several readings follows them only by its slopes. Those hold for a strength or a weight.
        What a dip does to a mixture is no straight line, so over a large error they do not.
        """
        moved = sum(
            weight * sizes.get(reading, 0.0) for reading, weight in line.direct if self.known[reading].seen.part == DIP
        )
        return bool(line.spread) and abs(moved) > OUT_OF_REACH * line.spread

    def _is_out_of_reach(self, line: Equation, shifts: Mapping[str, float]) -> bool:
        return line.key.startswith("figure:") and self.out_of_reach(line, shifts)

    def _enter_again(self, keys: set[str]) -> None:
        for reading in {reading for key in keys for reading in self.entries[key]}:
            column = self.columns[reading]
            self.columns[reading] = {key: value for key, value in column.items() if key not in keys}
        # In an order that is the same in every process, since sums of floats hang on it.
        for key in sorted(keys):
            self.enter(self.equations[key])

    def enter(self, line: Equation) -> None:
        """Works one line out."""
        self.variances.pop(line.key, None)
        if line.key in self.void:
            self.entries[line.key], self.residuals[line.key], self.charges[line.key] = {}, 0.0, 0.0
            return
        entries = _entries(line, self.values)
        self.entries[line.key] = entries
        for reading, sensitivity in entries.items():
            self.columns.setdefault(reading, {})[line.key] = sensitivity
        charge = max(0.0, _sum(line.charge, self.values))
        self.charges[line.key] = charge
        usual = self.usual[line.key].share * charge if line.key in self.usual else 0.0
        left = _sum(line.terms, self.values) + line.constant
        for reading, sensitivity in line.direct:
            left -= sensitivity * self.shifted.get(reading, 0.0)
        left -= usual
        self.as_measured[line.key] = left
        self.residuals[line.key] = left - self._found(line.key) if self.free else left


def left_free(key: str, column: Mapping[str, float], size: float, uncertainty: float) -> Free:
    """A found fault taken out at this size, and free about it."""
    return Free(key, dict(column), size, _FREE * uncertainty)


def _entries(line: Equation, values: Mapping[str, Measured]) -> dict[str, float]:
    total: dict[str, float] = {}
    for term in line.terms:
        measured, factor = values[term.quantity], term.factor
        if term.aspect is Aspect.ALCOHOL:
            for reading in measured.readings:
                total[reading.key] = total.get(reading.key, 0.0) + factor * reading.lpa
        else:
            for reading in measured.readings:
                moved = factor * _sensitivity(reading, measured, term.aspect)
                total[reading.key] = total.get(reading.key, 0.0) + moved
    for key, sensitivity in line.direct:
        total[key] = total.get(key, 0.0) + sensitivity
    return {key: value for key, value in total.items() if abs(value) > 1e-12}


def _sum(terms: Iterable[Term], values: Mapping[str, Measured]) -> float:
    total = 0.0
    for term in terms:
        measured = values[term.quantity]
        if term.aspect is Aspect.ALCOHOL:
            total += term.factor * measured.lpa
        else:
            total += term.factor * (measured.percent if term.aspect is Aspect.STRENGTH else measured.litres20)
    return total


def _sensitivity(reading: ObservedReading, measured: Measured, aspect: Aspect) -> float:
    """What one unit of a reading moves of the strength or the litres."""
    if aspect is Aspect.STRENGTH:
        return reading.percent
    if not measured.percent:
        return 0.0
    # Litres at 20 °C are the alcohol over the strength.
    return (100.0 * reading.lpa - measured.litres20 * reading.percent) / measured.percent
