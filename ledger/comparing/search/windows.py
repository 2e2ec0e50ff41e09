"""A window: one row that looks odd, all that could explain it, and enough around it to judge each explanation.

A reading's signature lies in few rows: its operation, the vessel's next gauge, its neighbours. Rows further off say
nothing more once the window's own rows are known, and leaving them out is exact for the rest, since V of some rows is
a part of V of all. So the month is screened row by row and only what stands out is looked at closely.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace

from ledger.comparing.model.balance_model import BalanceModel, WrittenOf
from ledger.comparing.model.equations import Equation
from ledger.comparing.statistics.algebra.problem import Hypothesis, Problem, RowKind
from ledger.comparing.statistics.faults.signatures import loss_at, unwritten_movement
from ledger.comparing.statistics.faults.slips import Slip, SlipKind

# Rows of a window beyond those that hold whole explanations.
MOST_ROWS = 40
# A reading in more rows than this joins too many to be followed from any one of them.
WIDE = 40
# A row this many standard deviations off is looked at closely; a fault over the level has one well beyond it.
SEED = 2.5
# From here on an error may be so large that figures worked out of several readings cannot be followed.
FAR_OFF = 30.0
# Gaps this far off may be the two ends of one movement.
_END_OF_MOVEMENT = 2.0
_MOST_ENDS = 4
# How near what came in has to be to all that another vessel held.
_ALL_OF_IT = 0.03
# A loss stands before an innocent reading that fits as well, unless the figure itself speaks for a slip (2 ln of the
# Bayes factor over 2: Kass and Raftery, J. Am. Stat. Assoc. 90 (1995) 773-795, from memory).
LOSS_ODDS = math.e
# Alcohol is not made in a still or a cask: a gain is a wrong measurement until it is explained.
GAIN_ODDS = 0.05
# How a movement says its ends.
NOWHERE, ARROW = "nowhere known", " to "


def oddness(sheet: BalanceModel, keys: Iterable[str] | None = None) -> dict[str, float]:
    """Each row's residual over its own standard deviation."""
    wanted = sheet.lines if keys is None else keys
    return {key: sheet.residuals[key] / sheet.variance(key) ** 0.5 for key in wanted}


def neighbourhood(sheet: BalanceModel, seed: str, odd: Mapping[str, float]) -> set[str]:
    """Rows of every explanation of the seed in full, and the nearest rows around them.

    A reading that stands in very many rows (the strength of a vat beside a hundred casks) is asked for where the vat's
    own rows are odd; from one of the casks it is only what they share.
    """
    core = {seed, *(end.key for end in ends_of_movement(sheet, seed, odd))}
    soft = sheet.lines[seed].kind is RowKind.LIKENESS
    inner = reached(sheet, core, WIDE if soft else None)
    window = set(inner)
    frontier: Collection[str] = inner
    while len(window) < len(inner) + MOST_ROWS and frontier:
        outer = reached(sheet, frontier, WIDE) - window
        place = sheet.lines[seed].order
        ordered = sorted(outer, key=lambda key: (-abs(odd[key]), abs(sheet.lines[key].order - place)))
        frontier = ordered[: len(inner) + MOST_ROWS - len(window)]
        window |= set(frontier)
    return window


def doubtful_figures(sheet: BalanceModel, seed: str, keys: Collection[str]) -> set[str]:
    """Figures that cannot be followed, for a row so far off that one reading's error would carry them beyond reach."""
    entries = sheet.entries[seed]
    sizes = {reading: sheet.residuals[seed] / weight for reading, weight in entries.items()}
    return {
        key
        for key in keys
        if key.startswith("figure:")
        and any(
            sheet.out_of_reach(sheet.lines[key], {reading: sizes[reading]})
            for reading, _ in sheet.lines[key].direct
            if reading in sizes
        )
    }


def ends_of_movement(sheet: BalanceModel, key: str, odd: Mapping[str, float]) -> list[Equation]:
    """Gaps of other vessels over the same stretch of time that look the other way."""
    line = sheet.lines[key]
    if line.kind is not RowKind.CONTINUITY:
        return []
    ends = [
        other
        for other in sheet.gaps
        if other.vessel != line.vessel
        and other.since < line.order
        and line.since < other.order
        and max(other.since, line.since) < min(other.order, line.order)
        and odd[other.key] * odd[key] < 0.0
        and abs(odd[other.key]) > _END_OF_MOVEMENT
    ]
    return sorted(ends, key=lambda one: -abs(odd[one.key]))[:_MOST_ENDS]


def window_problem(sheet: BalanceModel, keys: Collection[str], written: WrittenOf) -> Problem:
    """The rows as a problem, with every explanation that lies in them as a whole."""
    rows = sheet.rows(keys)
    losses = [
        replace(loss_at(row), prior_odds=LOSS_ODDS if row.residual > 0.0 else GAIN_ODDS)
        for row in rows
        if row.kind is RowKind.OPERATION
    ]
    return Problem(
        rows=rows,
        readings=sheet.readings(keys, written),
        usual_losses=sheet.usual_losses(keys),
        hypotheses=[*losses, *movements(sheet, keys)],
    )


def movements(sheet: BalanceModel, keys: Collection[str]) -> list[Hypothesis]:
    """Movements nobody wrote down: out of or into one vessel, and between two over the same stretch of time."""
    gaps = sorted(
        (sheet.lines[key] for key in keys if sheet.lines[key].kind is RowKind.CONTINUITY), key=lambda line: line.order
    )
    found: list[Hypothesis] = []
    for gap in gaps:
        into = sheet.residuals[gap.key] > 0.0
        found.append(_movement(sheet, keys, gave=() if into else (gap,), got=(gap,) if into else ()))
        if into:
            found += _from_ungauged(sheet, keys, gap)
    for first in gaps:
        for second in gaps:
            apart = first.vessel == second.vessel or max(first.since, second.since) >= min(first.order, second.order)
            if not apart and sheet.residuals[first.key] < 0.0 < sheet.residuals[second.key]:
                found.append(_movement(sheet, keys, gave=(first,), got=(second,)))
    return found


def _from_ungauged(sheet: BalanceModel, keys: Collection[str], gap: Equation) -> list[Hypothesis]:
    """What came in may be all that stood in a vessel nobody has gauged since: an emptied one often is not."""
    came = sheet.residuals[gap.key]
    return [
        _movement(sheet, keys, gave=(), got=(gap,), giver=vessel, amount=held.lpa)
        for vessel, (order, held) in sheet.standing.items()
        if vessel != gap.vessel and order < gap.order and abs(held.lpa - came) < _ALL_OF_IT * came
    ]


def _movement(
    sheet: BalanceModel,
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


def reached(sheet: BalanceModel, keys: Iterable[str], widest: int | None = None) -> set[str]:
    """These rows and all that share a reading with one of them; not by readings of more than `widest` rows."""
    found: set[str] = set()
    for key in keys:
        found.add(key)
        for reading in sheet.entries[key]:
            column = sheet.columns[reading]
            if widest is None or len(column) <= widest:
                found.update(column)
    return found
