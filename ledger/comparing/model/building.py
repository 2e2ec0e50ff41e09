"""Builds the balance model of a log: equations, usual losses, every reading once, and what is used where."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from ledger.comparing.model.balance_model import BalanceModel, Known, known_as
from ledger.comparing.model.equations import Equation, equations_of, quantities
from ledger.comparing.model.usual_losses import ExpectedLossOf, learnt_from_casks
from ledger.comparing.observations.observed import Log, ObservedGauge, ObservedReading
from ledger.comparing.statistics.algebra.problem import RowKind


def balance_model_of(log: Log, usual_of: ExpectedLossOf, more: Iterable[Equation] = ()) -> BalanceModel:
    """All rows of a log, likeness figures included."""
    lines = {line.key: line for line in (*equations_of(log), *more)}
    usual = {
        key: found
        for key, line in lines.items()
        if line.kind is RowKind.OPERATION and (found := usual_of(line)) is not None
    }
    # An operation for which the site has set no threshold is not judged.
    lines = {key: line for key, line in lines.items() if line.kind is not RowKind.OPERATION or key in usual}
    known = _known(log)
    model = BalanceModel(log, lines, quantities(log), known, usual, {}, {}, {}, {}, {}, _standing(log))
    for line in lines.values():
        model.enter(line)
    _learn_casks(model)
    silent = [key for key, line in lines.items() if not line.spread and not model.variance(key) > 0.0]
    for key in silent:
        for reading in model.entries.pop(key):
            model.columns[reading].pop(key, None)
        del model.equations[key], model.residuals[key], model.charges[key]
        model.usual.pop(key, None)
    for line in model.equations.values():
        if line.kind is RowKind.CONTINUITY:
            model.gaps.setdefault(line.vessel, []).append(line)
    return model


def _learn_casks(model: BalanceModel) -> None:
    """Casks of a period weighed again say together what casks here lose a year."""
    casks = [line for line in model.equations.values() if line.ages and model.charges[line.key] > 0.0]
    lost = [
        (
            model.usual[line.key],
            model.residuals[line.key] / model.charges[line.key] + model.usual[line.key].share,
            line.years,
        )
        for line in casks
    ]
    for line, usual in zip(casks, learnt_from_casks(lost), strict=True):
        model.usual[line.key] = usual
        model.enter(line)


def _standing(log: Log) -> dict[str, tuple[int, float]]:
    """The place among the events of each vessel's last gauge, and what it then held, LPA."""
    return {
        event.vessel: (order, event.measured.lpa)
        for order, event in enumerate(log.events)
        if isinstance(event, ObservedGauge)
    }


def _known(log: Log) -> dict[str, Known]:
    """Every reading once. Its figures are the same wherever it was used; only its weight differs."""
    seen: dict[str, ObservedReading] = {}
    vessels: dict[str, str] = {}
    used: dict[str, list[str]] = defaultdict(list)
    for event in log.events:
        for one in event.measured.readings:
            # The record the reading stands on knows how it was typed.
            if one.key not in seen or one.uncertainty > seen[one.key].uncertainty:
                seen[one.key] = one
                vessels[one.key] = event.measured.vessel
            used[one.key].append(event.measured.key)
    return {key: known_as(one, vessels[key], tuple(used[key])) for key, one in seen.items()}
