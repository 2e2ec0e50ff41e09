"""Two questions about every operation, and four answers.

Is the difference outside the site's review threshold (a share of what the step says it is judged against, with a
floor), gains like losses? And can the instruments tell what is beyond the usual loss from nothing? Inside: accepted,
whatever the instruments say; it feeds the charts. Outside and told apart: an enquiry. Outside and not told apart: gauge
again, as long as the liquid still stands as it was gauged; once a vessel has been gauged anew that was the second look,
and its figures are in the answer already.

The second question is asked with everything that shares a reading with the operation, so the gauges after it count too.
One operation looked at by itself is told apart at two standard uncertainties (k = 2); where a month of operations is
looked at together chance passes that every few days, so the level is that of a neighbour's question, T > 9.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum

from distillery.rules.cask_loss import beyond_band
from ledger.comparing.model.lines import Line
from ledger.comparing.model.rows import Sheet
from ledger.comparing.search.searching import Search
from ledger.comparing.statistics.algebra.problem import RowKind
from ledger.comparing.statistics.faults.likelihood import NEIGHBOUR_LEVEL

COVERAGE = 2


class Verdict(StrEnum):
    ACCEPTED = "accepted"
    GAUGE_AGAIN = "gauge again"
    ENQUIRY = "enquiry"


@dataclass(frozen=True, slots=True)
class Judged:
    """One operation's balance as corrected so far: LPA missing (positive) or over, the usual loss, the threshold, what
    it is judged against, and the answer. What it left as written is said by `unaccounted`."""

    line: Line
    difference: float
    usual: float
    threshold: float
    charge: float
    statistic: float
    verdict: Verdict
    basis: str


def judge_all(search: Search, keys: Collection[str] | None = None) -> dict[str, Judged]:
    """The answer for every operation of the sheet as it stands, by row."""
    sheet = search.sheet
    wanted = sheet.lines if keys is None else keys
    standing = _still_standing(sheet)
    return {
        key: _judge(search, sheet.lines[key], standing)
        for key in wanted
        if sheet.lines[key].kind is RowKind.OPERATION and sheet.charges[key] > 0.0
    }


def difference_of(sheet: Sheet, line: Line) -> float:
    """What the operation leaves unexplained: of a cask, only what lies beyond its yearly band."""
    return difference_left(sheet, line, sheet.residuals[line.key], sheet.charges[line.key])


def difference_left(sheet: Sheet, line: Line, residual: float, charge: float) -> float:
    """The difference an operation would have with its row and its charge at these amounts (LPA)."""
    usual = sheet.usual[line.key]
    short = residual + usual.share * charge
    if usual.most is None:
        return short
    return beyond_band(short, usual.most * charge)


def _judge(search: Search, line: Line, standing: set[str]) -> Judged:
    sheet, key = search.sheet, line.key
    usual, charge = sheet.usual[key], sheet.charges[key]
    difference = difference_of(sheet, line)
    against = charge * line.judged_share
    threshold = max(usual.threshold_share * against, usual.floor_lpa)
    verdict, statistic = Verdict.ACCEPTED, 0.0
    if abs(difference) > threshold:
        statistic = search.loss_statistic(key)
        if statistic > NEIGHBOUR_LEVEL:
            verdict = Verdict.ENQUIRY
        elif key in standing:
            verdict = Verdict.GAUGE_AGAIN
    return Judged(
        line=line,
        difference=difference,
        usual=usual.share * charge,
        threshold=threshold,
        charge=against,
        statistic=statistic,
        verdict=verdict,
        basis=usual.basis,
    )


def _still_standing(sheet: Sheet) -> set[str]:
    """Operations of which some vessel has not been gauged since."""
    last: dict[str, str] = {}
    for event in sheet.log.events:
        last[event.measured.vessel] = event.doing.record
    return {f"operation:{record}" for record in last.values()}
