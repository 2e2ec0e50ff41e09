"""The search through a month: what stands out is looked at closely, and what is found is put right before going on.

The oddest row comes first, and its window is tested. Where something passes the level, its causes are ranked and the
best is taken as found. A wrong reading is then corrected in the rows, its size is left free, and the search goes on
with what is left. So the two sides of one wrong reading are found once, and a second fault is not hidden by the first.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from ledger.comparing.model.balance_model import BalanceModel, WrittenOf, left_free
from ledger.comparing.remembered import NOTHING, Remembered
from ledger.comparing.search.blocks import block_of, digest_of, digest_of_block
from ledger.comparing.search.explaining import faults_in, highest_statistic
from ledger.comparing.search.remeasuring import Remeasure, corrected
from ledger.comparing.search.widening import opened
from ledger.comparing.search.windows import (
    FAR_OFF,
    SEED,
    OddnessAsAsked,
    doubtful_figures,
    neighbourhood,
    oddness,
    reached,
    window_problem,
)
from ledger.comparing.statistics.algebra.assembly import Window, dense
from ledger.comparing.statistics.algebra.problem import FaultKind, Hypothesis, Problem
from ledger.comparing.statistics.faults.faults import Fault, ImpossibleReading
from ledger.comparing.statistics.faults.likelihood import (
    FINDING_LEVEL,
    NEIGHBOUR_LEVEL,
    LikelihoodRatio,
    likelihood_ratio,
)
from ledger.comparing.statistics.faults.ranking import Explanation, estimate, rank_window
from ledger.comparing.statistics.faults.slips import nearest_possible_size

# With more faults than this in one month its balances prove nothing.
_MOST_FOUND = 60
# Rounds in which faults are estimated again beside one another, and when that has settled (in uncertainties).
_MOST_ROUNDS = 4
_SETTLED = 0.1


@dataclass(frozen=True, slots=True)
class FoundFault:
    """One fault of the month, the rows it moves, and how odd each was before it was taken out."""

    fault: Fault
    moved: Mapping[str, float]
    odd: Mapping[str, float]
    residuals: Mapping[str, float]


@dataclass(slots=True)
class Search:
    """A month's model as it stands, and what has been found in it."""

    model: BalanceModel
    written: WrittenOf
    remeasure: Remeasure
    found: list[FoundFault]
    known: Remembered = NOTHING

    def run(self) -> None:
        """Finds the faults whose T passes the level, looking at every odd row."""
        for _ in range(_MOST_ROUNDS):
            self._look_round()
            for _ in range(_MOST_ROUNDS):
                moved = [self._again(number) for number in range(len(self.found))]
                if not any(moved):
                    break
            if not self._let_go():
                return

    def _look_round(self) -> None:
        odd = oddness(self.model)
        looked: set[str] = set()
        waiting = _seeds(odd)
        while len(self.found) < _MOST_FOUND:
            seed = next((key for key in waiting if key not in looked), None)
            if seed is None:
                return
            if self._look(seed, odd, looked):
                odd |= oddness(self.model, self._changed(odd))
                waiting = _seeds(odd)

    def _changed(self, odd: Mapping[str, float]) -> set[str]:
        """Rows that what was found last moves, or that share a reading with one of those."""
        moved = {row for one in self.found[-2:] for column in one.fault.hypothesis.columns for row in column}
        return {row for row in reached(self.model, moved) if row in odd}

    def _again(self, number: int) -> bool:
        """Estimates a fault again beside all the others, because the first ones were estimated before the later ones
        were known. True where its size has moved.
        """
        found = self.found[number]
        fault, hypothesis = found.fault, found.fault.hypothesis
        without = self._without(hypothesis)
        reading = _is_reading(fault)
        columns = (without.columns[hypothesis.key],) if reading else hypothesis.columns
        keys = reached(without, reached(without, {row for column in columns for row in column}))
        window = opened(window_problem(without, keys, self.written), only=())
        rest = likelihood_ratio(window.whitening.residual, window.whitening.whiten(dense(columns, window.positions)))
        applied = fault.applied + rest.size if reading else rest.size
        moved = abs(applied - fault.fit.size) > _SETTLED * rest.uncertainty
        model = without
        if reading:
            assert hypothesis.written is not None
            applied = nearest_possible_size(hypothesis.written, applied)
            try:
                model = corrected(without, {hypothesis.key: hypothesis.written.value - applied}, self.remeasure)
            except ImpossibleReading:
                return False
            columns = (model.columns[hypothesis.key],)
            rest = LikelihoodRatio((applied / rest.uncertainty) ** 2, 1, (applied,), rest.uncertainties)
        taken_out = (0.0,) if reading else rest.sizes
        free = [
            left_free(f"{hypothesis.key}:{place}", column, size, uncertainty)
            for place, (column, size, uncertainty) in enumerate(
                zip(columns, taken_out, rest.uncertainties, strict=True)
            )
        ]
        self.model = model.with_free([*model.free, *free])
        weighed = estimate(hypothesis, rest, rest.comparable, settled=True)
        again = replace(fault, fit=rest, evidence=weighed.evidence, applied=applied if reading else 0.0)
        self.found[number] = replace(found, fault=again)
        return moved

    def _let_go(self) -> bool:
        """Drops the weakest fault if it is no finding beside the others; its rows are then looked at again."""
        if not self.found:
            return False
        number = min(range(len(self.found)), key=lambda place: self.found[place].fault.fit.comparable)
        weakest = self.found[number].fault
        if weakest.fit.comparable > FINDING_LEVEL:
            return False
        self.model = self._without(weakest.hypothesis)
        if _is_reading(weakest):
            assert weakest.hypothesis.written is not None
            right = {weakest.hypothesis.key: weakest.hypothesis.written.value}
            self.model = corrected(self.model, right, self.remeasure)
        del self.found[number]
        return True

    def _without(self, hypothesis: Hypothesis) -> BalanceModel:
        """The model with everything found but one left free."""
        return self.model.with_free([one for one in self.model.free if not one.key.startswith(f"{hypothesis.key}:")])

    def window(self, seed: str) -> Window:
        """The window of one row as the month stands now."""
        odd = OddnessAsAsked(self.model)
        return opened(window_problem(self.model, neighbourhood(self.model, seed, odd), self.written))

    def explanations(self, seed: str, limit: int = 8) -> list[Explanation]:
        """What could explain one row, best first, asked of its own window only."""
        window = self.window(seed)
        ranked = rank_window(window, rows=(seed,))
        return [one for one in ranked if one.comparable > NEIGHBOUR_LEVEL][:limit]

    def loss_statistic(self, key: str) -> float:
        """T of a loss at one operation, asked in its window with the faults found left free."""
        hypothesis = f"loss:{key}"
        keys = neighbourhood(self.model, key, OddnessAsAsked(self.model))
        return self._highest(window_problem(self.model, keys, self.written), only=(hypothesis,))

    def _look(self, seed: str, odd: dict[str, float], looked: set[str]) -> bool:
        """Looks at one row; True where something was found, which may have come from a row beside it."""
        looked.add(seed)
        keys = neighbourhood(self.model, seed, odd)
        model = self.model
        if abs(odd[seed]) > FAR_OFF:
            model = block_of(model, keys)
            model = model.with_void(doubtful_figures(model, seed, keys))
        problem = window_problem(model, keys, self.written)
        if self._highest(problem) <= FINDING_LEVEL:
            # Every explanation of a row that lies in this window as a whole has been asked for as well.
            looked |= {key for key in keys if abs(odd[key]) > SEED and reached(self.model, (key,)) <= keys}
            return False
        faults = self._faults_in(model if model is not self.model else block_of(model, keys))
        moved = {row for fault in faults for column in fault.hypothesis.columns for row in column}
        if faults and seed not in moved:
            beside = max(sorted(moved), key=lambda key: abs(odd[key]))
            return beside not in looked and self._look(beside, odd, looked)
        for fault in faults:
            self._take(fault, odd)
        looked -= moved
        return bool(faults)

    def _highest(self, problem: Problem, only: Collection[str] | None = None) -> float:
        """The largest T of a window, or of these hypotheses in it."""
        if not self.known.remembers:
            return highest_statistic(problem, only)
        return self.known.part(("highest", digest_of(problem, only)), lambda: highest_statistic(problem, only))

    def _faults_in(self, block: BalanceModel) -> Sequence[Fault]:
        """The best fault of a block, with what cannot be told apart from it measured anew; none where it cannot be
        tested."""
        if not self.known.remembers:
            return faults_in(block, self.written, self.remeasure)
        made_from = "faults", self.known.plant, digest_of_block(block, self.written)
        return self.known.part(made_from, lambda: faults_in(block, self.written, self.remeasure))

    def _take(self, fault: Fault, odd: Mapping[str, float]) -> None:
        before = self.model
        hypothesis = fault.hypothesis
        if _is_reading(fault):
            assert hypothesis.written is not None
            try:
                self.model = corrected(
                    before, {hypothesis.key: hypothesis.written.value - fault.applied}, self.remeasure
                )
            except ImpossibleReading:
                self.model = before
        free = [
            left_free(f"{hypothesis.key}:{number}", column, fault.fit.sizes[number], fault.fit.uncertainties[number])
            for number, column in enumerate(hypothesis.columns)
        ]
        if hypothesis.kind is FaultKind.READING:
            corrected_size = 0.0 if _is_reading(fault) else fault.fit.size
            column = self.model.columns[hypothesis.key]
            free = [left_free(f"{hypothesis.key}:0", column, corrected_size, fault.fit.uncertainty)]
        self.model = self.model.with_free([*self.model.free, *free])
        moved = dict(hypothesis.columns[0])
        self.found.append(
            FoundFault(fault, moved, {key: odd[key] for key in moved}, {key: before.residuals[key] for key in moved})
        )


def _seeds(odd: Mapping[str, float]) -> list[str]:
    """Rows to be looked at, the oddest first."""
    return sorted((key for key, value in odd.items() if abs(value) > SEED), key=lambda key: (-abs(odd[key]), key))


def _is_reading(fault: Fault) -> bool:
    return fault.hypothesis.kind is FaultKind.READING and fault.hypothesis.written is not None
