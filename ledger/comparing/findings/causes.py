"""Causes in words: which reading, loss or movement would explain what was found, and what to look at next.

Each cause names the record and the column in which a wrong figure stands, what is written there, what it would have to
be, and what that would leave unexplained. Causes that no figure can tell apart stand on one line, and a loss that is
one of them always stands there. Nothing in the books is changed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ledger.comparing.findings.judging import difference_left
from ledger.comparing.findings.likely import CauseLine, Likely
from ledger.comparing.findings.put_right import comes_to, neighbour
from ledger.comparing.model.balance_model import BalanceModel
from ledger.comparing.model.equations import Equation
from ledger.comparing.model.written_context import as_typed
from ledger.comparing.search.remeasuring import Remeasure, corrected
from ledger.comparing.search.searching import FoundFault
from ledger.comparing.search.windows import ARROW, NOWHERE
from ledger.comparing.statistics.algebra.problem import FaultKind, Hypothesis, RowKind
from ledger.comparing.statistics.faults.faults import ImpossibleReading
from ledger.comparing.statistics.faults.ranking import Estimate, Explanation
from ledger.comparing.statistics.faults.slips import Slip, SlipKind
from ledger.words_of_columns import words_of

MOST_LINES = 6
# Two causes are told apart where the true one would come out first with this probability.
_TOLD_APART = 0.95

PART_NAMES = {
    "dip_mm": ("dip", "mm"),
    "celsius": ("temperature", "°C"),
    "hydrometer_percent": ("hydrometer", "% vol"),
    "gross_kg": ("gross weight", "kg"),
    "tare_kg": ("tare", "kg"),
    "original_gravity": ("original gravity", ""),
    "final_gravity": ("final gravity", ""),
    "bottles": ("count of bottles", "bottles"),
    "litres": ("volume", "litres"),
    "percent": ("strength", "% vol"),
}


@dataclass(frozen=True, slots=True)
class Context:
    """What is being explained: the model before anything was corrected, the row of the finding, and how a gauge is
    measured with another value of a reading.
    """

    model: BalanceModel
    equation: Equation
    remeasure: Remeasure

    def leaves(self, hypothesis: Hypothesis, size: float) -> float:
        """The difference that is left if this much was lost or moved."""
        row = self.equation.key
        taken_out = hypothesis.columns[0].get(row, 0.0) * size
        return self._difference(self.model.residuals[row] - taken_out, self.model.charges[row])

    def with_reading(self, hypothesis: Hypothesis, value: float) -> BalanceModel | None:
        """The model once a reading has this value, measured anew as a correction would do it; None if that cannot
        be."""
        try:
            return corrected(self.model, {hypothesis.key: value}, self.remeasure)
        except ImpossibleReading:
            return None

    def leaves_in(self, again: BalanceModel) -> float:
        """The difference that is left in a model with something put right."""
        row = self.equation.key
        return self._difference(again.residuals[row], again.charges[row])

    def _difference(self, residual: float, charge: float) -> float:
        """The difference by the same rule as that of the finding: LPA, missing positive. A row of strengths or
        temperatures has none."""
        if self.equation.kind is RowKind.OPERATION and self.equation.key in self.model.usual:
            return difference_left(self.model, self.equation, residual, charge)
        # A gauge counts what it found as positive, a finding what is missing.
        return -residual if self.equation.kind is RowKind.CONTINUITY else 0.0


def lines_of_found(found: FoundFault, context: Context) -> tuple[CauseLine, ...]:
    """The lines of a fault found in the search: its own first, then rivals that were not separated from it.

    On the fault's own line stands all that fits equally well. So does a rival that nearly does: one that the true cause
    would outrank in fewer than nineteen cases of twenty, so that the better fit may be luck.
    """
    fault = found.fault
    like = [one for one in fault.rivals if one.probability_best_above < _TOLD_APART]
    members = [one for one in fault.explanation.members if one.hypothesis.key != fault.hypothesis.key]
    members += [member for one in like for member in one.members]
    first = _likely(fault.hypothesis, fault.fit.size, fault.evidence.matches, context)
    own = _line(
        [first, *_members(members, context)], fault.fit.statistic, [fault.hypothesis, *_asked(members)], context
    )
    rivals = [line_of(one, context) for one in fault.rivals if one not in like]
    return (own, *(one for one in rivals if one is not None))[:MOST_LINES]


def line_of(explanation: Explanation, context: Context) -> CauseLine | None:
    """One explanation as a line, its best member first; None if none of it can be true or was ever written."""
    members = sorted(explanation.members, key=lambda one: one is not explanation.leading)
    causes = _members(members, context)
    if not causes:
        return None
    return _line(causes, explanation.comparable, _asked(members), context)


def _line(causes: Sequence[Likely], statistic: float, asked: Sequence[Hypothesis], context: Context) -> CauseLine:
    return CauseLine(tuple(causes), statistic, look_next(asked, context) if len(causes) > 1 else "")


def _asked(members: Iterable[Estimate]) -> list[Hypothesis]:
    return [one.hypothesis for one in members]


def _members(members: Iterable[Estimate], context: Context) -> list[Likely]:
    return [
        _likely(one.hypothesis, one.fit.size, one.evidence.matches, context)
        for one in members
        if one.possible and (one.hypothesis.kind is not FaultKind.READING or one.hypothesis.written is not None)
    ]


def _likely(hypothesis: Hypothesis, size: float, matches: Sequence[Slip], context: Context) -> Likely:
    if hypothesis.kind is FaultKind.READING:
        return _of_reading(hypothesis, size, matches, context)
    left = round(context.leaves(hypothesis, size), 2)
    if hypothesis.kind is FaultKind.MOVEMENT:
        return _of_movement(hypothesis, size, context, left)
    line = context.model.equations[next(iter(hypothesis.columns[0]))]
    way = "alcohol lost" if size > 0 else "more alcohol than went in"
    return Likely(
        f"{way}, {abs(size):.2f} LPA, in {line.label}",
        line.doing.record,
        "",
        "",
        "",
        left,
        line.doing.record_kind,
        is_loss=True,
    )


def _of_reading(hypothesis: Hypothesis, size: float, matches: Sequence[Slip], context: Context) -> Likely:
    known = context.model.known[hypothesis.key]
    seen = known.seen
    right = seen.value - size
    if matches and matches[0].right_value is not None:
        right = matches[0].right_value
    name, unit = PART_NAMES.get(seen.part, (seen.part, seen.unit))
    kind = next((one.doing.record_kind for one in context.model.log.events if one.doing.record == seen.record), "")
    # A column that stands once for each line is told by its cask or vessel.
    if hypothesis.key.endswith(f":{known.vessel}"):
        name = f"{known.vessel}: {name}"
    elif ": " in (label := words_of(kind, seen.column).label):
        # The sheet says at which vessel, and before or after what.
        name = f"{label[:1].lower()}{label[1:]}"
    would_be = as_typed(right, seen.typed or f"{seen.value:g}")
    # The proposed value has as many decimals as the one that was written.
    again = context.with_reading(hypothesis, float(would_be))
    leaves = context.leaves(hypothesis, seen.value - float(would_be)) if again is None else context.leaves_in(again)
    return Likely(
        cause=f"{name} {_slip_words(matches, seen.value - right, unit, kind)}",
        record=seen.record,
        field=seen.column,
        written=seen.typed or f"{seen.value:g}",
        would_be=would_be,
        leaves_lpa=round(leaves, 2),
        record_kind=kind,
        vessel=known.vessel,
        reading=PART_NAMES.get(seen.part, (seen.part, ""))[0],
        comes_to=comes_to(again, hypothesis.key, context.equation) if again is not None else None,
        neighbour=neighbour(context.model, again, hypothesis, context.equation) if again is not None else None,
    )


def _slip_words(matches: Sequence[Slip], size: float, unit: str, record_kind: str) -> str:
    way = "short" if size < 0 else "too much"
    amount = f"{abs(size):.4g} {unit}".strip()
    if not matches:
        return f"misread or miswritten, {amount} {way}"
    kind = matches[0].kind
    if kind in (SlipKind.ROUND_STEP, SlipKind.WHOLE_CASES, SlipKind.ONE_DIGIT):
        return f"written {amount} {way}"
    about = f" ({words_of(record_kind, matches[0].about).label})" if matches[0].about else ""
    return f"written {amount} {way}: {kind.value}{about}"


def _of_movement(hypothesis: Hypothesis, size: float, context: Context, leaves: float) -> Likely:
    model = context.model
    rows = [model.equations[key] for key in hypothesis.columns[0]]
    signs = {model.equations[key].vessel: value * size for key, value in hypothesis.columns[0].items()}
    gave = [vessel for vessel, moved in signs.items() if moved < 0]
    if not gave and not hypothesis.label.startswith(NOWHERE):
        gave = [hypothesis.label.partition(ARROW)[0]]
    got = [vessel for vessel, moved in signs.items() if moved > 0]
    first = min(rows, key=lambda line: line.order)
    since = model.log.events[first.since].doing.record if 0 <= first.since < len(model.log.events) else ""
    between = f", between {since} and {first.doing.record}" if since else f", before {first.doing.record}"
    if gave and got:
        said = f"transfer from {gave[0]} to {got[0]} not written down, {abs(size):.1f} LPA{between}"
    elif got:
        said = f"{abs(size):.1f} LPA came into {got[0]} that nobody wrote down{between}"
    else:
        said = f"{abs(size):.1f} LPA left {gave[0]} that nobody wrote down{between}"
    return Likely(said, first.doing.record, "", "", "", leaves, first.doing.record_kind, first.vessel)


def look_next(hypotheses: Sequence[Hypothesis], context: Context) -> str:
    """Which further look would tell apart what these figures cannot."""
    parts = {context.model.known[one.key].seen.part for one in hypotheses if one.key in context.model.known}
    if "bottles" in parts:
        return "Count the bottled stock."
    if {"original_gravity", "final_gravity"} <= parts:
        return "Compare the gravity of the wort and the last gravity logged before the end."
    if parts & {"gross_kg", "tare_kg"}:
        return "Weigh the cask again and read the tare on its head; weigh an empty one of its kind."
    if "litres" in parts:
        return "Look up the volume where it was measured."
    vessels = [context.model.known[one.key].vessel for one in hypotheses if one.key in context.model.known]
    last = next((vessel for vessel in vessels if vessel and _is_last(context, vessel)), "")
    if last:
        return f"The next gauge of {last} will tell: dip it and prove it again."
    if {"hydrometer_percent", "celsius"} <= parts:
        return "Prove a sample of the same liquid again at a temperature read anew."
    return "Gauge the vessels of this operation again before they are drawn from."


def _is_last(context: Context, vessel: str) -> bool:
    events = [one for one in context.model.log.events if one.measured.vessel == vessel]
    return bool(events) and events[-1].doing.record == context.equation.doing.record
