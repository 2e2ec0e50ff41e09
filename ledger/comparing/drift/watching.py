"""A small loss that always leans one way: charts on whitened values and the search for the run it began with.

Only values that are independent of one another may be charted. For each operation that is its residual, less what the
rows before it foretold, over its own standard deviation. Each type of operation has two sums, one for a slow drift and
one for an abrupt one, and both look for losses and for gains. Beside them every run is tried as the first of a lasting
loss; that says at once since which run, and what share of each charge. Faults already found are left free, so that a
slip drives no chart. A signal opens a watch.

Source: Page, Biometrika 41 (1954); Narasimhan and Mah, AIChE J. 33 (1987), as `statistics.charts` and
`statistics.onsets`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from ledger.comparing.model.balance_model import BalanceModel
from ledger.comparing.model.equations import Equation
from ledger.comparing.search.widening import whitened as whitened_rows
from ledger.comparing.statistics.algebra.assembly import dense, row_positions
from ledger.comparing.statistics.algebra.problem import Problem, RowKind
from ledger.comparing.statistics.algebra.projection import FollowsFromFound, left_free
from ledger.comparing.statistics.charts.charts import (
    ABRUPT,
    FEWEST_LASTING,
    FEWEST_RUNS,
    PROTRACTED,
    Cusum,
    Ewma,
    cusum,
    ewma,
)
from ledger.comparing.statistics.charts.onsets import ONSET_LEVEL, LastingLoss, lasting_losses
from ledger.comparing.statistics.charts.whitening import Whitens
from ledger.comparing.statistics.faults.levels import NOT_SEPARATED
from ledger.comparing.statistics.faults.likelihood import (
    FINDING_LEVEL,
    NEIGHBOUR_LEVEL,
    LikelihoodRatio,
    NothingToTest,
    likelihood_ratio,
)

# A type with fewer runs than this in the time looked at has no onset to look for.
FEWEST_TO_WATCH = 4
GAUGING_OF = "gauging of "
MOST_ROWS = 1500
_GRAVITIES = ("original_gravity", "final_gravity")
_EWMA_WEIGHT = 0.25
_ROWS = (RowKind.OPERATION, RowKind.CONTINUITY, RowKind.STRENGTH)


@dataclass(frozen=True, slots=True)
class Chart:
    """The whitened values of one type of operation in order of time, or of one vessel's gaps, and what the charts make
    of them; positive is loss. `verdict` is False while the runs are too few to judge.
    """

    family: str
    lines: tuple[Equation, ...]
    values: tuple[float, ...]
    slow: Cusum
    quick: Cusum
    average: Ewma

    @property
    def verdict(self) -> bool:
        """Whether there are enough runs for a chart to say anything."""
        return len(self.values) >= FEWEST_RUNS


@dataclass(frozen=True, slots=True)
class InstrumentOff:
    """An instrument that would explain as much by reading this much off at every reading of one kind."""

    instrument: str
    part: str
    unit: str
    size: float
    uncertainty: float
    statistic: float


@dataclass(frozen=True, slots=True)
class Watch:
    """A loss (or gain, negative) that lasts: since which run, between which two, what share, how much in all (LPA).

    Of a vessel's gaps (`each`) the share is LPA at each gauge.
    """

    family: str
    onset: Equation
    earliest: Equation
    latest: Equation
    signalled: Equation
    share: float
    share_uncertainty: float
    statistic: float
    total: float
    runs: tuple[Equation, ...]
    column: Mapping[str, float]
    each: bool = False
    instruments: tuple[InstrumentOff, ...] = ()


@dataclass(frozen=True, slots=True)
class Watched:
    """All charts of a month, the watches they opened, and the whitened values of its balances."""

    charts: tuple[Chart, ...]
    watches: tuple[Watch, ...]
    whitened: Mapping[str, float]


def watch(model: BalanceModel) -> Watched:
    """Charts and watches of all types of operation, with the faults found so far left free."""
    keys = _rows_of(model)
    if not keys:
        return Watched((), (), {})
    readings, shared = model.entering(dict.fromkeys(keys).keys(), _nothing)
    problem = Problem(rows=model.rows(keys), readings=readings, usual_losses=shared)
    whitening, positions = whitened_rows(problem), row_positions(problem)
    whitened = dict(zip(positions, (float(value) for value in whitening.residual), strict=True))
    families = _families(model, positions)
    gaps = _gaps(model, positions)
    charts = tuple(_chart(model, name, one, whitened) for name, one in (families | gaps).items())
    signals = [one for one in lasting_losses(whitening, positions, families) if _stands(one, families[one.family])]
    watches = [_of_onset(model, one, families[one.family]) for one in signals]
    heard = {one.family for one in watches}
    beside = _Beside(whitening, positions, [one.column for one in watches])
    watches += [
        found
        for chart in charts
        if chart.family in families
        and chart.family not in heard
        and (found := _of_chart(model, chart, families[chart.family], beside, NEIGHBOUR_LEVEL))
    ]
    # There are many vessels, and a gap has no usual loss: the chart of a vessel needs the level of a finding.
    watches += [
        replace(found, each=True)
        for chart in charts
        if chart.family in gaps and (found := _of_chart(model, chart, gaps[chart.family], beside, FINDING_LEVEL))
    ]
    if watches:
        off = _instruments(model, whitening, positions)
        watches = [
            replace(one, instruments=tuple(o for o in off if o.statistic > one.statistic - NOT_SEPARATED))
            for one in watches
        ]
    return Watched(charts, tuple(watches), whitened)


def _instruments(model: BalanceModel, whitening: Whitens, positions: Mapping[str, int]) -> list[InstrumentOff]:
    """T of each instrument that may read off by the same at all its readings of a kind. Until it is checked, it is
    either that or a loss.
    """
    columns: dict[tuple[str, str, str], dict[str, float]] = {}
    for row in positions:
        for key, weight in model.entries[row].items():
            seen = model.known[key].seen
            if seen.instrument and seen.column:
                column = columns.setdefault((seen.instrument, seen.part, seen.unit), {})
                column[row] = column.get(row, 0.0) + weight
    whitened = whitening.whiten(dense(list(columns.values()), positions))
    found = []
    for place, (instrument, part, unit) in enumerate(columns):
        if float(whitened[:, place] @ whitened[:, place]) > 0.0:
            fit = likelihood_ratio(whitening.residual, whitened[:, place])
            found.append(InstrumentOff(instrument, part, unit, fit.size, fit.uncertainty, fit.statistic))
    return sorted(found, key=lambda one: -one.statistic)


def _rows_of(model: BalanceModel) -> list[str]:
    """The balances, and the gauges of their vessels between them. A very large month is charted without the second
    looks at strength: they narrow each run a little, and cost as much as all the rest.
    """
    keys = [
        key
        for key, line in model.equations.items()
        if (line.kind in _ROWS and not line.ages) or _is_second_look(model, line)
    ]
    if len(keys) <= MOST_ROWS:
        return keys
    return [key for key in keys if model.equations[key].kind is not RowKind.STRENGTH]


def _is_second_look(model: BalanceModel, line: Equation) -> bool:
    """True for a gravity compared with another reading of the same wort or wash. It makes every run of that wash
    surer."""
    return len(line.direct) == 1 and model.known[line.direct[0][0]].seen.part in _GRAVITIES


@dataclass(frozen=True, slots=True)
class _Beside:
    """Tests a column beside lasting losses already found, their shares left free."""

    whitening: Whitens
    positions: Mapping[str, int]
    lasting: Sequence[Mapping[str, float]]

    def test(self, column: Mapping[str, float]) -> LikelihoodRatio | None:
        """T and size of the column; None where nothing of it is left to test."""
        free = self.whitening.whiten(dense(list(self.lasting), self.positions))
        own = self.whitening.whiten(dense([column], self.positions))
        try:
            residual, left = left_free(self.whitening.residual, own, [free] if self.lasting else [])
            return likelihood_ratio(residual, left)
        except (FollowsFromFound, NothingToTest):
            return None


def _stands(found: LastingLoss, charges: Mapping[str, float]) -> bool:
    """Whether a signal counts: it has to show in three runs, and either hold to the end or have been beyond doubt
    once."""
    runs = len(charges) - list(charges).index(found.onset)
    return found.highest > FINDING_LEVEL or (found.statistic > ONSET_LEVEL and runs >= FEWEST_LASTING)


def _nothing(key: str) -> None:
    return None


def _families(model: BalanceModel, positions: Mapping[str, int]) -> dict[str, dict[str, float]]:
    families: dict[str, dict[str, float]] = {}
    for key in positions:
        line = model.equations[key]
        if line.kind is RowKind.OPERATION and model.charges[key] > 0.0:
            families.setdefault(line.family, {})[key] = model.charges[key]
    return {family: charges for family, charges in families.items() if len(charges) >= FEWEST_TO_WATCH}


def _gaps(model: BalanceModel, positions: Mapping[str, int]) -> dict[str, dict[str, float]]:
    """Each vessel's gaps, one litre lost at each: a gauge counts what it found as positive."""
    gaps: dict[str, dict[str, float]] = {}
    for key in positions:
        line = model.equations[key]
        if line.kind is RowKind.CONTINUITY:
            gaps.setdefault(f"{GAUGING_OF}{line.vessel}", {})[key] = -1.0
    return {family: some for family, some in gaps.items() if len(some) >= FEWEST_RUNS}


def _chart(model: BalanceModel, family: str, charges: Mapping[str, float], whitened: Mapping[str, float]) -> Chart:
    values = [whitened[key] if charge > 0.0 else -whitened[key] for key, charge in charges.items()]
    return Chart(
        family=family,
        lines=tuple(model.equations[key] for key in charges),
        values=tuple(values),
        slow=cusum(values, PROTRACTED),
        quick=cusum(values, ABRUPT),
        average=ewma(values, _EWMA_WEIGHT, 0.0, 1.0),
    )


def _of_onset(model: BalanceModel, found: LastingLoss, charges: Mapping[str, float]) -> Watch:
    keys = list(charges)
    since = keys[keys.index(found.onset) :]
    return Watch(
        family=found.family,
        onset=model.equations[found.onset],
        earliest=model.equations[found.earliest],
        latest=model.equations[found.latest],
        signalled=_run_at(model, found.signalled, keys),
        share=found.share,
        share_uncertainty=found.share_uncertainty,
        statistic=found.statistic,
        total=found.share * sum(charges[key] for key in since),
        runs=tuple(model.equations[key] for key in since),
        column={key: charges[key] for key in since},
    )


def _run_at(model: BalanceModel, row: str, keys: list[str]) -> Equation:
    """The last run of the type that had been made when a row gave the signal."""
    order = model.equations[row].order
    return model.equations[
        max((key for key in keys if model.equations[key].order <= order), key=lambda key: model.equations[key].order)
    ]


def _of_chart(
    model: BalanceModel,
    chart: Chart,
    charges: Mapping[str, float],
    beside: _Beside,
    level: float,
) -> Watch | None:
    """A chart's own signal, where the onsets gave none: a gain, or a drift too slow for them.

    All runs since then have to confirm it: T of a lasting share from that run on has to pass the level. What lasts
    elsewhere is left free meanwhile, because it shows here too through the vessels between.
    """
    if not chart.verdict:
        return None
    signals = sorted((*chart.slow.signals, *chart.quick.signals), key=lambda one: one.run)
    keys = list(charges)
    for signal in signals:
        since = keys[signal.onset :]
        column = {key: charges[key] for key in since}
        fit = beside.test(column)
        if fit is not None and fit.statistic > level and (fit.size > 0.0) == signal.loss:
            return Watch(
                family=chart.family,
                onset=chart.lines[signal.onset],
                earliest=chart.lines[signal.onset],
                latest=chart.lines[signal.run],
                signalled=chart.lines[signal.run],
                share=fit.size,
                share_uncertainty=fit.uncertainty,
                statistic=fit.statistic,
                total=fit.size * sum(abs(charges[key]) for key in since),
                runs=tuple(model.equations[key] for key in since),
                column=column,
            )
    return None
