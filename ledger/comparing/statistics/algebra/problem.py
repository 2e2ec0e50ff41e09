"""A month (or a window of it) as rows, readings and possible faults: what the statistics are asked about.

The caller reads the ledger and fills these structures; nothing here knows how a gauge is computed.
A column says which rows one unit of a fault moves and by how much, row key -> sensitivity, in the row's
unit for one unit of the fault. Signs: see the package docstring; `signatures` writes the usual columns.

Rows may be in any unit (LPA, % vol, °C, kg); each reading carries its standard uncertainty in its own unit.
Rows are kept in time order; rows of the same moment stay in the order given.
"""

from collections.abc import Collection, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import chain
from typing import TypeAlias

from msgspec import Struct, structs

from ledger.comparing.statistics.faults.slips import Slip, Written

Column: TypeAlias = Mapping[str, float]


class ProblemError(ValueError):
    """The rows, readings and faults handed over do not fit together; the message names the one that does not."""


class RowKind(StrEnum):
    OPERATION = "operation"
    CONTINUITY = "continuity"
    STRENGTH = "strength"
    LIKENESS = "likeness"


class FaultKind(StrEnum):
    READING = "reading"
    LOSS = "loss"
    LASTING_LOSS = "lasting loss"
    MOVEMENT = "movement"
    INSTRUMENT = "instrument"


class Row(Struct, frozen=True):
    """One figure that should be about zero.

    `time` is any number that grows with time; only the order matters. `spread` is the standard deviation the row
    has of its own, beyond its readings: process spread of the usual loss (share times charge) or the spread of
    a likeness.
    """

    key: str
    kind: RowKind
    time: float
    residual: float
    spread: float = 0.0
    label: str = ""


class Reading(Struct, frozen=True):
    """One dip, temperature, hydrometer, gravity, weight or count, with the rows it enters.

    A reading used in many rows is one reading with many entries, never many readings: its error is one error.
    `written` is what stood on the sheet, when the slips that could explain a wrong value are to be weighed.
    """

    key: str
    label: str
    standard_uncertainty: float
    column: Column
    written: Written | None = None
    prior_odds: float = 1.0


class UsualLoss(Struct, frozen=True):
    """Loss of one type of operation: the charge of each row, and how well the usual share is known.

    `doubt` is the standard uncertainty of the usual share itself (a fraction of charge), common to all its runs.
    """

    key: str
    label: str
    doubt: float
    charges: Column


@dataclass(frozen=True, slots=True)
class Instrument:
    """One instrument between two calibrations: the readings made with it share its calibration error.

    `standard_uncertainty` is that of its calibration, in the unit of its readings; 0 if it is taken as exact.
    """

    key: str
    label: str
    standard_uncertainty: float
    readings: tuple[str, ...]


class Hypothesis(Struct, frozen=True):
    """One thing that may have gone wrong: a label and the column, or columns, it would put into r.

    With several columns the first is the size asked for; the others are left free beside it. `family` joins
    hypotheses of one kind of operation (the onsets of a lasting loss). `slips` are sizes that would be
    natural (the amount of a movement written twice) and `size_range` the range any other size could come from.
    `prior_odds` are odds against an ordinary reading error; 1 where nothing is known.
    """

    key: str
    label: str
    kind: FaultKind
    columns: tuple[Column, ...]
    family: str = ""
    slips: tuple[Slip, ...] = ()
    size_range: float = 0.0
    prior_odds: float = 1.0
    written: Written | None = None


@dataclass(frozen=True, slots=True)
class Problem:
    """All rows of a window with everything that enters them.

    `hypotheses` hold losses, lasting losses and movements; one hypothesis per reading and one per instrument
    are added by themselves. Raises ProblemError when a key is used twice or a column names an unknown row.
    """

    rows: Sequence[Row]
    readings: Sequence[Reading] = ()
    usual_losses: Sequence[UsualLoss] = ()
    instruments: Sequence[Instrument] = ()
    hypotheses: Sequence[Hypothesis] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "rows", tuple(sorted(self.rows, key=lambda row: row.time)))
        _refuse_repeats("row", [row.key for row in self.rows])
        _refuse_repeats("reading", [reading.key for reading in self.readings])
        faults = [fault.key for fault in self.hypotheses]
        faults += [reading.key for reading in self.readings]
        faults += [instrument.key for instrument in self.instruments]
        _refuse_repeats("fault", faults)
        known = {row.key for row in self.rows}
        columns: list[Column] = [reading.column for reading in self.readings]
        columns += [usual.charges for usual in self.usual_losses]
        columns += [column for fault in self.hypotheses for column in fault.columns]
        if not known.issuperset(chain.from_iterable(columns)):
            raise ProblemError(self._entering_an_unknown_row(known))
        by_key = {reading.key: reading.column for reading in self.readings} if self.instruments else {}
        for instrument in self.instruments:
            instrument_column(instrument, by_key)
        for fault in self.hypotheses:
            if not fault.columns:
                raise ProblemError(f"'{fault.key}' has no column: say which rows it would move.")

    def _entering_an_unknown_row(self, known: Set[str]) -> str:
        columns = [(reading.key, reading.column) for reading in self.readings]
        columns += [(usual.key, usual.charges) for usual in self.usual_losses]
        columns += [(fault.key, column) for fault in self.hypotheses for column in fault.columns]
        key, unknown = next((key, unknown) for key, column in columns if (unknown := column.keys() - known))
        return f"'{key}' enters the row '{min(unknown)}', which is not in this window."

    def with_uncertainties(self, standard_uncertainties: Mapping[str, float]) -> "Problem":
        """The same window as if these readings (by key) had been made with other instruments.

        Raises ProblemError for a key that is no reading of this window.
        """
        if unknown := standard_uncertainties.keys() - {reading.key for reading in self.readings}:
            raise ProblemError(f"There is no reading '{min(unknown)}' in this window.")
        readings = tuple(
            structs.replace(
                reading,
                standard_uncertainty=standard_uncertainties.get(reading.key, reading.standard_uncertainty),
            )
            for reading in self.readings
        )
        return replace(self, readings=readings)


def all_hypotheses(problem: Problem, only: Collection[str] | None = None) -> list[Hypothesis]:
    """Everything that may be wrong in this window: losses and movements first, then readings, then instruments; with
    `only`, what has one of these keys.

    Losses stand first so that, among explanations that fit equally well, the loss is never hidden behind the
    innocent reading.
    """
    readings = [
        Hypothesis(
            reading.key,
            reading.label,
            FaultKind.READING,
            (reading.column,),
            prior_odds=reading.prior_odds,
            written=reading.written,
        )
        for reading in problem.readings
        if only is None or reading.key in only
    ]
    columns = {reading.key: reading.column for reading in problem.readings} if problem.instruments else {}
    instruments = [
        Hypothesis(
            instrument.key,
            instrument.label,
            FaultKind.INSTRUMENT,
            (instrument_column(instrument, columns),),
        )
        for instrument in problem.instruments
        if only is None or instrument.key in only
    ]
    others = [one for one in problem.hypotheses if only is None or one.key in only]
    return [*others, *readings, *instruments]


def instrument_column(instrument: Instrument, columns: Mapping[str, Column]) -> Column:
    """What a constant error of the instrument does: the sum of the columns of all its readings.

    Raises ProblemError if it names a reading that is not in this window.
    """
    total: dict[str, float] = {}
    for key in instrument.readings:
        if key not in columns:
            raise ProblemError(f"'{instrument.key}' names the reading '{key}', which is not in this window.")
        for row, sensitivity in columns[key].items():
            total[row] = total.get(row, 0.0) + sensitivity
    return total


def _refuse_repeats(what: str, keys: Sequence[str]) -> None:
    if len(set(keys)) != len(keys):
        repeated = next(key for key in keys if keys.count(key) > 1)
        raise ProblemError(f"The {what} '{repeated}' is there twice; every {what} needs a key of its own.")
