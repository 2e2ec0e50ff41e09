"""What a reading put right would make of its gauge and of the gauge beside it, as a correction would post them."""

from __future__ import annotations

from math import sqrt
from typing import Final

from distillery.plant.models import MICRO
from ledger.comparing.findings.likely import ComesTo, Neighbour
from ledger.comparing.model.balance_model import BalanceModel
from ledger.comparing.model.equations import Equation, Term
from ledger.comparing.statistics.algebra.problem import Hypothesis, RowKind
from ledger.comparing.statistics.faults.likelihood import NEIGHBOUR_LEVEL
from ledger.comparing.unaccounted import uncertainty_ul

# As far off as chance takes one row (T = 9, three standard deviations), it agrees.
MOST_APART: Final = sqrt(NEIGHBOUR_LEVEL)


def comes_to(again: BalanceModel, reading: str, line: Equation) -> ComesTo | None:
    """What the gauge with a reading comes to in a model where that is put right; of several, the one in this line."""
    quantities = again.known[reading].quantities
    in_line = {term.quantity for term in line.terms}
    place = next((key for key in quantities if key in in_line), next(iter(quantities), None))
    if place is None:
        return None
    measured = again.values[place]
    sure_ul = uncertainty_ul([Term(place, 1.0)], again.values)
    return ComesTo(measured.litres20, measured.lpa, measured.percent, sure_ul / MICRO)


def neighbour(was: BalanceModel, again: BalanceModel, hypothesis: Hypothesis, line: Equation) -> Neighbour | None:
    """The gauge against its book that the same reading moves most, beside the line it was found in."""
    moved = hypothesis.columns[0]
    gaps = [key for key in moved if key != line.key and was.equations[key].kind is RowKind.CONTINUITY]
    if not gaps:
        return None
    key = max(sorted(gaps), key=lambda one: abs(moved[one]))
    doing, left = again.equations[key].doing, again.residuals[key]
    agrees = abs(left) <= MOST_APART * sqrt(again.variance(key))
    # A gauge counts what it found as positive, a difference what is missing.
    return Neighbour(doing.record, doing.record_kind, -left, -was.residuals[key], agrees)
