"""A window: one row that looks odd, all that could explain it, and enough around it to judge each explanation.

A reading's signature lies in few rows: its operation, the vessel's next gauge, its neighbours. Rows further off say
nothing more once the window's own rows are known, and leaving them out is exact for the rest, since V of some rows is
a part of V of all. So the month is screened row by row and only what stands out is looked at closely.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

from msgspec import structs

from ledger.comparing.model.balance_model import BalanceModel, WrittenOf
from ledger.comparing.model.equations import Equation
from ledger.comparing.statistics.algebra.problem import Hypothesis, Problem, RowKind
from ledger.comparing.statistics.faults.signatures import loss_at, unwritten_movement
from ledger.comparing.statistics.faults.slips import Slip, SlipKind

# Rows of a window beyond those that hold whole explanations.
MOST_ROWS = 40
# A reading that stands in more rows than this is not followed from one row to the others.
WIDE = 40
# A row this many standard deviations off is looked at closely; a fault over the level has one well beyond it.
SEED = 2.5
# From here on an error may be so large that figures worked out of several readings cannot be followed.
FAR_OFF = 30.0
# Gaps this far off may be the two ends of one movement.
_END_OF_MOVEMENT = 2.0
_MOST_ENDS = 4
# What came in has to be within this of all that another vessel held.
_ALL_OF_IT = 0.03
# A loss stands before an innocent reading that fits as well, unless the figure itself speaks for a slip (2 ln of the
# Bayes factor over 2: Kass and Raftery, J. Am. Stat. Assoc. 90 (1995) 773-795, from memory).
LOSS_ODDS = math.e
# Alcohol is not made in a still or a cask: a gain is a wrong measurement until it is explained.
GAIN_ODDS = 0.05
# How a movement's label names where it came from and went to.
NOWHERE, ARROW = "nowhere known", " to "


def oddness(model: BalanceModel, keys: Iterable[str] | None = None) -> dict[str, float]:
    """Each row's residual over its own standard deviation."""
    wanted = model.equations if keys is None else keys
    return {key: model.residuals[key] / model.variance(key) ** 0.5 for key in wanted}


class OddnessAsAsked(dict[str, float]):
    """The same, each row worked out when it is asked for."""

    def __init__(self, model: BalanceModel) -> None:
        super().__init__()
        self._model = model

    def __missing__(self, key: str) -> float:
        self[key] = self._model.residuals[key] / self._model.variance(key) ** 0.5
        return self[key]


def neighbourhood(model: BalanceModel, seed: str, odd: Mapping[str, float]) -> set[str]:
    """Rows of every explanation of the seed in full, and the nearest rows around them.

    A reading may stand in very many rows, as the strength of a vat does beside a hundred casks. Whether it is wrong is
    asked where the vat's own rows are odd. Seen from one of the casks it is only something that they share.
    """
    core = {seed, *(end.key for end in ends_of_movement(model, seed, odd))}
    soft = model.equations[seed].kind is RowKind.LIKENESS
    inner = reached(model, core, WIDE if soft else None)
    window = set(inner)
    frontier: Collection[str] = inner
    while len(window) < len(inner) + MOST_ROWS and frontier:
        outer = reached(model, frontier, WIDE) - window
        place = model.equations[seed].order
        ordered = sorted(outer, key=lambda key: (-abs(odd[key]), abs(model.equations[key].order - place), key))
        frontier = ordered[: len(inner) + MOST_ROWS - len(window)]
        window |= set(frontier)
    return window


def doubtful_figures(model: BalanceModel, seed: str, keys: Collection[str]) -> set[str]:
    """Figures whose slopes no longer hold: the row is so far off that an error of one reading would move them too
    far."""
    entries = model.entries[seed]
    sizes = {reading: model.residuals[seed] / weight for reading, weight in entries.items()}
    return {
        key
        for key in keys
        if key.startswith("figure:")
        and any(
            model.out_of_reach(model.equations[key], {reading: sizes[reading]})
            for reading, _ in model.equations[key].direct
            if reading in sizes
        )
    }


def ends_of_movement(model: BalanceModel, key: str, odd: Mapping[str, float]) -> list[Equation]:
    """Gaps of other vessels over the same stretch of time that look the other way."""
    line = model.equations[key]
    if line.kind is not RowKind.CONTINUITY:
        return []
    ends = [
        other
        for vessel, gaps in model.gaps.items()
        if vessel != line.vessel
        for other in _over_the_same_time(gaps, line)
        if odd[other.key] * odd[key] < 0.0 and abs(odd[other.key]) > _END_OF_MOVEMENT
    ]
    return sorted(ends, key=lambda one: (-abs(odd[one.key]), one.key))[:_MOST_ENDS]


def _over_the_same_time(gaps: Sequence[Equation], line: Equation) -> Iterator[Equation]:
    """Those of a vessel's gaps, which follow on one another, that share a stretch of time with a gap elsewhere."""
    for place in range(bisect_right(gaps, line.since, key=lambda gap: gap.order), len(gaps)):
        if gaps[place].since >= line.order:
            return
        if max(gaps[place].since, line.since) < min(gaps[place].order, line.order):
            yield gaps[place]


def window_problem(model: BalanceModel, keys: Collection[str], written: WrittenOf) -> Problem:
    """The rows as a problem, with every explanation that lies in them as a whole."""
    # Sums of floats hang on their order, and that of a set is another in every process.
    keys = dict.fromkeys(sorted(keys)).keys()
    readings, shared = model.entering(keys, written)
    rows = model.rows(keys)
    losses = [
        structs.replace(loss_at(row), prior_odds=LOSS_ODDS if row.residual > 0.0 else GAIN_ODDS)
        for row in rows
        if row.kind is RowKind.OPERATION
    ]
    return Problem(
        rows=rows,
        readings=readings,
        usual_losses=shared,
        hypotheses=[*losses, *movements(model, keys)],
    )


def movements(model: BalanceModel, keys: Collection[str]) -> list[Hypothesis]:
    """Movements nobody wrote down: out of or into one vessel, and between two over the same stretch of time."""
    gaps = sorted(
        (model.equations[key] for key in keys if model.equations[key].kind is RowKind.CONTINUITY),
        key=lambda line: line.order,
    )
    found: list[Hypothesis] = []
    for gap in gaps:
        into = model.residuals[gap.key] > 0.0
        found.append(_movement(model, keys, gave=() if into else (gap,), got=(gap,) if into else ()))
        if into:
            found += _from_ungauged(model, keys, gap)
    gave = [gap for gap in gaps if model.residuals[gap.key] < 0.0]
    got = [gap for gap in gaps if model.residuals[gap.key] > 0.0]
    for first in gave:
        for second in got:
            apart = first.vessel == second.vessel or max(first.since, second.since) >= min(first.order, second.order)
            if not apart:
                found.append(_movement(model, keys, gave=(first,), got=(second,)))
    return found


def _from_ungauged(model: BalanceModel, keys: Collection[str], gap: Equation) -> list[Hypothesis]:
    """Movements from a vessel that nobody has gauged since, where what came in is about all that it held: a vessel that
    was emptied is often not gauged again."""
    came = model.residuals[gap.key]
    return [
        _movement(model, keys, gave=(), got=(gap,), giver=vessel, amount=held)
        for vessel, (order, held) in model.standing.items()
        if vessel != gap.vessel and order < gap.order and abs(held - came) < _ALL_OF_IT * came
    ]


def _movement(
    model: BalanceModel,
    keys: Collection[str],
    *,
    gave: Sequence[Equation],
    got: Sequence[Equation],
    giver: str = "",
    amount: float = 0.0,
) -> Hypothesis:
    free = [row for line in got if (row := line.key.replace("continuity:", "strength:")) in keys]
    givers, takers = (lines[0].vessel if lines else "" for lines in (gave, got))
    label = f"{givers or giver or NOWHERE}{ARROW}{takers or NOWHERE}"
    return unwritten_movement(
        f"movement:{'+'.join(line.key for line in (*gave, *got))}{f'<{giver}' if giver else ''}",
        label,
        gave=[line.key for line in gave],
        got=[line.key for line in got],
        free_rows=free,
        slips=[Slip(SlipKind.MOVEMENT, amount)] if amount else (),
        size_range=amount,
    )


def reached(model: BalanceModel, keys: Iterable[str], widest: int | None = None) -> set[str]:
    """These rows and all that share a reading with one of them; not by readings of more than `widest` rows."""
    found: set[str] = set()
    for key in keys:
        found.add(key)
        for reading in model.entries[key]:
            column = model.columns[reading]
            if widest is None or len(column) <= widest:
                found.update(column)
    return found
