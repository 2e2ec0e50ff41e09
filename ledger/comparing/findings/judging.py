"""Two questions about every operation, and four answers.

First: is the difference, loss or gain, beyond the site's review threshold? That is a share of what the step says it is
judged against, with a floor. Second: is what goes beyond the usual loss more than the instruments could be wrong by?
Within the threshold it is accepted, whatever the instruments say, and feeds the charts. Beyond it, and more than they
could be wrong by: an enquiry. Beyond it, and not more: gauge again, as long as the liquid still stands as it was
gauged. Once a vessel has been gauged anew, that was the second look, and its figures are in the answer already.

The second question is asked with everything that shares a reading with the operation, so the gauges after it count too.
For one operation by itself, two standard uncertainties (k = 2) would do. Among all operations of a month chance passes
that every few days, so the level is T > 9, as where a neighbour is asked about.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum

from distillery.rules.cask_loss import beyond_band
from ledger.comparing.model.balance_model import BalanceModel
from ledger.comparing.model.equations import Equation
from ledger.comparing.search.searching import Search
from ledger.comparing.statistics.algebra.problem import RowKind
from ledger.comparing.statistics.faults.likelihood import NEIGHBOUR_LEVEL

COVERAGE = 2


class Outcome(StrEnum):
    ACCEPTED = "accepted"
    GAUGE_AGAIN = "gauge again"
    ENQUIRY = "enquiry"


@dataclass(frozen=True, slots=True)
class Judged:
    """One operation's balance as corrected so far: LPA missing (positive) or over, the usual loss, the threshold, what
    it is judged against, and the answer. What it left as written is said by `unaccounted`."""

    equation: Equation
    difference: float
    usual: float
    threshold: float
    charge: float
    statistic: float
    outcome: Outcome
    basis: str


def judge_all(search: Search, keys: Collection[str] | None = None) -> dict[str, Judged]:
    """The answer for every operation of the model as it stands, by row."""
    model = search.model
    wanted = model.equations if keys is None else keys
    standing = _still_standing(model)
    return {
        key: _judge(search, model.equations[key], standing)
        for key in wanted
        if model.equations[key].kind is RowKind.OPERATION and model.charges[key] > 0.0
    }


def difference_of(model: BalanceModel, line: Equation) -> float:
    """What the operation leaves unexplained; for a cask only what lies beyond its yearly band."""
    return difference_left(model, line, model.residuals[line.key], model.charges[line.key])


def difference_left(model: BalanceModel, line: Equation, residual: float, charge: float) -> float:
    """The difference an operation would have with its row and its charge at these amounts (LPA)."""
    usual = model.usual[line.key]
    short = residual + usual.share * charge
    if usual.most is None:
        return short
    return beyond_band(short, usual.most * charge)


def _judge(search: Search, line: Equation, standing: set[str]) -> Judged:
    model, key = search.model, line.key
    usual, charge = model.usual[key], model.charges[key]
    difference = difference_of(model, line)
    against = charge * line.judged_share
    threshold = max(usual.threshold_share * against, usual.floor_lpa)
    outcome, statistic = Outcome.ACCEPTED, 0.0
    if abs(difference) > threshold:
        statistic = search.loss_statistic(key)
        if statistic > NEIGHBOUR_LEVEL:
            outcome = Outcome.ENQUIRY
        elif key in standing:
            outcome = Outcome.GAUGE_AGAIN
    return Judged(
        equation=line,
        difference=difference,
        usual=usual.share * charge,
        threshold=threshold,
        charge=against,
        statistic=statistic,
        outcome=outcome,
        basis=usual.basis,
    )


def _still_standing(model: BalanceModel) -> set[str]:
    """Operations of which some vessel has not been gauged since."""
    last: dict[str, str] = {}
    for event in model.log.events:
        last[event.measured.vessel] = event.doing.record
    return {f"operation:{record}" for record in last.values()}
