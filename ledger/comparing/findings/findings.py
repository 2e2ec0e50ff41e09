"""Findings: what a month's figures leave that somebody should look into, most serious first.

One model answers for all of it. Every balance, every gauge against its book and every figure against its kind is a row
that should come to nothing, with all its readings and what they share with other rows. There are four kinds of finding:
a fault whose T passes the level; an operation beyond its review threshold that the instruments can tell from its usual
loss; one that they cannot tell, as long as it can be gauged again; and a watch. One cause makes one finding, and what
else it explains stands under it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import sqrt

from distillery.plant.models import MICRO
from ledger.comparing.drift.lasting import Searched
from ledger.comparing.drift.watching import GAUGING_OF, Watch
from ledger.comparing.findings.causes import PART_NAMES, Context, line_of, lines_of_found
from ledger.comparing.findings.finding import (
    CONTINUITY,
    ENQUIRY,
    GAUGE_AGAIN,
    LIKENESS,
    WATCH,
    BesideUsual,
    Finding,
    Run,
    in_order,
)
from ledger.comparing.findings.judging import Judged, Outcome, judge_all
from ledger.comparing.findings.likely import CauseLine, Likely
from ledger.comparing.model.balance_model import BalanceModel
from ledger.comparing.model.equations import Equation
from ledger.comparing.model.kinds.equations import FIGURE
from ledger.comparing.search.searching import FoundFault
from ledger.comparing.statistics.algebra.problem import FaultKind, RowKind
from ledger.comparing.statistics.faults.likelihood import NEIGHBOUR_LEVEL
from ledger.comparing.unaccounted import THE_BOOK, found_at, left_of

_KINDS = {
    RowKind.OPERATION: ENQUIRY,
    RowKind.CONTINUITY: CONTINUITY,
    RowKind.STRENGTH: CONTINUITY,
    RowKind.LIKENESS: LIKENESS,
}


def findings_in(searched: Searched) -> list[Finding]:
    """Findings of what has been searched, most serious first."""
    before = judge_all(searched.as_written, {key for found in searched.search.found for key in found.moved})
    after = judge_all(searched.search)
    result: list[Finding] = []
    explained: set[str] = set()
    for found in searched.search.found:
        result.append(_of_fault(searched, found, before))
        explained |= found.moved.keys()
    result += [
        _of_judged(searched, one)
        for one in after.values()
        if one.outcome is not Outcome.ACCEPTED and one.equation.key not in explained
    ]
    result += [_of_watch(searched, one) for one in searched.watched.watches]
    return in_order(_once(result))


def _once(result: Iterable[Finding]) -> list[Finding]:
    kept: dict[str, Finding] = {}
    for one in result:
        kept.setdefault(one.key, one)
    return list(kept.values())


def _of_fault(searched: Searched, found: FoundFault, before: dict[str, Judged]) -> Finding:
    model = searched.as_written.model
    rows = {key: found.odd[key] for key in found.moved}
    beyond = [key for key in rows if key in before and before[key].outcome is not Outcome.ACCEPTED]
    operations = [key for key in rows if model.equations[key].kind is RowKind.OPERATION]
    books = [key for key in rows if model.equations[key].kind is RowKind.CONTINUITY]
    if beyond or (found.fault.hypothesis.kind is FaultKind.LOSS and operations):
        main = max(beyond or operations, key=lambda key: abs(rows[key]))
        kind = ENQUIRY
    else:
        main = max(rows, key=lambda key: abs(rows[key]))
        kind = _KINDS[model.equations[main].kind]
    line = model.equations[main]
    figures = _figures(searched, line)
    lines = lines_of_found(found, Context(model, line, searched.as_written.remeasure))
    where = lines[0].causes[0]
    again = max((key for key in books if key != main), key=lambda key: abs(rows[key]), default=None)
    return Finding(
        kind=kind,
        record=where.record,
        record_kind=where.record_kind or line.doing.record_kind,
        operation=_operation(line, kind),
        at=line.at,
        difference_ul=figures.difference_ul,
        explained_ul=figures.explained_ul,
        uncertainty_ul=figures.uncertainty_ul,
        threshold_ul=figures.threshold_ul,
        in_ul=figures.in_ul,
        judged_against=figures.judged_against,
        basis=figures.basis,
        likely=tuple(cause for one in lines for cause in one.causes),
        found_again=model.equations[again].doing.record if again else "",
        found_again_ul=-_figures(searched, model.equations[again]).difference_ul if again else 0,
        key=main,
        lines=lines,
        under=tuple(dict.fromkeys(r for key in rows if (r := model.equations[key].doing.record) != where.record)),
        statistic=found.fault.fit.statistic,
        row=main,
        beside_usual=_beside_usual(model, line),
        usual_ul=_usual_ul(model, line),
        others_statistic=None if found.fault.apart is None else lines[0].statistic - found.fault.apart,
    )


def _usual_ul(model: BalanceModel, line: Equation) -> int:
    """What an operation of this charge loses as a rule, microlitres; 0 for any other row."""
    usual = model.usual.get(line.key)
    if line.kind is not RowKind.OPERATION or usual is None or usual.most is not None:
        # What lies within the band of a cask is no part of its difference.
        return 0
    return round(usual.share * model.charges[line.key] * MICRO)


@dataclass(frozen=True, slots=True)
class _Figures:
    """The figures of a finding by the readings as written: what is still open, and what was explained. A finding about
    a strength, or about a figure of a kind, has none."""

    difference_ul: int = 0
    explained_ul: int = 0
    uncertainty_ul: int = 0
    threshold_ul: int = 0
    in_ul: int = 0
    judged_against: str = ""
    basis: str = ""


def _figures(searched: Searched, line: Equation) -> _Figures:
    model = searched.as_written.model
    if line.kind is RowKind.OPERATION:
        left = left_of(line, model.log, model.values, model.usual.get(line.key))
        return _Figures(
            difference_ul=left.open_ul,
            explained_ul=left.explained_ul,
            uncertainty_ul=left.uncertainty_ul,
            threshold_ul=left.threshold_ul,
            in_ul=left.charge_ul,
            judged_against=left.judged_against,
            basis=left.basis,
        )
    if line.kind is RowKind.CONTINUITY:
        found = found_at(line, model.log, model.values)
        return _Figures(
            difference_ul=found.open_ul,
            explained_ul=found.explained_ul,
            uncertainty_ul=found.uncertainty_ul,
            in_ul=found.book_ul,
            judged_against=THE_BOOK,
        )
    return _Figures()


def _beside_usual(model: BalanceModel, line: Equation) -> BesideUsual | None:
    """The figure of a row that is no alcohol, by the readings as written: a strength, a temperature, a figure."""
    uncertainty = sqrt(model.variance(line.key))
    if line.kind is RowKind.STRENGTH:
        now, then = (model.values[term.quantity].percent for term in line.terms)
        return BesideUsual(line.label, now, then, uncertainty, "% vol")
    if line.kind is not RowKind.LIKENESS:
        return None
    if line.key.startswith(FIGURE):
        figure = model.log.figures[int(line.key.rpartition(":")[2])]
        return BesideUsual(line.label, figure.value, figure.value - line.constant, uncertainty, figure.unit)
    warm = model.known[line.direct[0][0]].seen
    return BesideUsual(line.label, warm.value, warm.value - line.constant, uncertainty, warm.unit)


def _operation(line: Equation, kind: str) -> str:
    if line.kind is RowKind.OPERATION:
        return line.doing.operation
    return f"{GAUGING_OF}{line.vessel}" if kind == CONTINUITY else line.label


def _of_judged(searched: Searched, judged: Judged) -> Finding:
    line = judged.equation
    figures = _figures(searched, line)
    context = Context(searched.search.model, line, searched.search.remeasure)
    ranked = (line_of(one, context) for one in searched.search.explanations(line.key))
    lines = tuple(one for one in ranked if one is not None)
    return Finding(
        kind=ENQUIRY if judged.outcome is Outcome.ENQUIRY else GAUGE_AGAIN,
        record=line.doing.record,
        record_kind=line.doing.record_kind,
        operation=line.doing.operation,
        at=line.at,
        difference_ul=figures.difference_ul,
        explained_ul=figures.explained_ul,
        uncertainty_ul=figures.uncertainty_ul,
        threshold_ul=figures.threshold_ul,
        in_ul=figures.in_ul,
        judged_against=figures.judged_against,
        basis=figures.basis,
        likely=tuple(cause for one in lines for cause in one.causes),
        key=line.key,
        lines=lines,
        statistic=judged.statistic,
        row=line.key,
        usual_ul=_usual_ul(searched.search.model, line),
        # All that passes the level at which a cause is named stands on a line.
        others_statistic=NEIGHBOUR_LEVEL,
    )


def _of_watch(searched: Searched, watch: Watch) -> Finding:
    last = watch.signalled
    onset = watch.onset.doing
    way = "loss" if watch.share > 0 else "gain"
    said = f"a lasting {way} in {watch.family} from {onset.record} on"
    cause = Likely(said, onset.record, "", "", "", 0.0, onset.record_kind)
    off = tuple(
        Likely(
            f"{one.instrument} reads {one.size:+.3g} {one.unit} off ({PART_NAMES[one.part][0]})", "", "", "", "", 0.0
        )
        for one in watch.instruments
        if one.part in PART_NAMES
    )
    look = "Check the instruments used at each run against others."
    line = CauseLine((cause,), watch.statistic, look)
    others = tuple(CauseLine((one,), watch.statistic, look) for one in off)
    charged = sum(abs(charge) for charge in watch.column.values())
    usual = searched.search.model.usual.get(last.key)
    return Finding(
        kind=WATCH,
        record=last.doing.record,
        record_kind=last.doing.record_kind,
        operation=watch.family,
        at=last.at,
        difference_ul=round(watch.total * MICRO),
        uncertainty_ul=round(watch.share_uncertainty * charged * MICRO),
        threshold_ul=0,
        in_ul=0 if watch.each else round(charged * MICRO),
        basis=usual.basis if usual else "",
        likely=(cause, *off),
        key=f"watch:{watch.family}:{watch.onset.doing.period}",
        lines=(line, *others),
        under=tuple(dict.fromkeys(one.doing.record for one in watch.runs)),
        since=(watch.earliest.doing.record, watch.latest.doing.record),
        share=None if watch.each else watch.share,
        share_uncertainty=None if watch.each else watch.share_uncertainty,
        total_ul=round(watch.total * MICRO),
        statistic=watch.statistic,
        row=last.key,
        runs=runs_of(watch),
    )


def runs_of(watch: Watch) -> tuple[Run, ...]:
    """The records of a watch in order of time, each once: one that gauged the vessel twice counts for both."""
    runs: dict[str, Run] = {}
    for one in watch.runs:
        charge_ul = round(abs(watch.column.get(one.key, 0.0)) * MICRO)
        before = runs.get(one.doing.record)
        if before is not None:
            charge_ul += before.charge_ul
        runs[one.doing.record] = Run(one.doing.record, one.doing.record_kind, one.at, charge_ul)
    return tuple(runs.values())
