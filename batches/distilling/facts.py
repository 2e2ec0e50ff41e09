"""A distillation period in figures, as its page, its print and its record show them."""

from __future__ import annotations

from math import sqrt

from batches.distilling.together import RunLine
from batches.distilling.yields import Yield
from distillery import figures
from distillery.clock.reading import site_day
from distillery.pages import LOOK, OUT, Fact
from distillery.plant.models import MICRO
from distillery.process.distilling import (
    COVERAGE_FACTOR,
    Said,
    judged_loss,
    loss_limits_percent,
    most_recovery_percent,
    recovery_percent,
)
from distillery.rules.in_force import usual_figure


def period_facts(worked: Yield) -> list[Fact]:
    """What a period came to, or has come to so far."""
    period = worked.period
    change = worked.feints_close_ul - worked.feints_open_ul
    ended = period.ended_at is not None
    facts = [
        Fact("Runs", str(len(worked.runs)), note=f"of {period.spirits}"),
        Fact("Spirit made", figures.lpa(worked.made_ul, 1), "LPA", note="the spirits accounts of its runs"),
        Fact("Opening low wines and feints", figures.lpa(worked.feints_open_ul, 1), "LPA"),
        Fact(
            "Closing low wines and feints" if ended else "Low wines and feints now",
            figures.lpa(worked.feints_close_ul, 1),
            "LPA",
            note=f"{figures.number(change / MICRO, 1, figures.SIGNED)} over the period"
            f"{'' if ended else ', by the books'}",
        ),
    ]
    if worked.mashes:
        facts += _of_malt(worked)
    return [*facts, *_recovered(worked), *_changed_over(worked)]


def _changed_over(worked: Yield) -> list[Fact]:
    """The changeovers in the period, and whether runs that were charged after one should be in the next."""
    found = []
    for one in worked.product_ends:
        runs = f"{one.runs_after} run{'' if one.runs_after == 1 else 's'}"
        said = (
            f"{runs} charged after it in this period: the class of spirits ends with its product, so end it there"
            if one.runs_after
            else "the period ends with it"
        )
        label = f"Changeover of {one.still}, {one.record.number}"
        note = "; ".join(part for part in (one.said, said) if part)
        found.append(Fact(label, figures.moment(one.at), note=note, state=LOOK if one.runs_after else None))
    return found


def _recovered(worked: Yield) -> list[Fact]:
    """What the runs of each operation recovered together: over a period, more than was charged is a lasting error."""
    together: dict[str, list[RunLine]] = {}
    for line in worked.runs:
        if line.charged_ul > 0 and line.recovered_ul > 0 and line.run.record.happened_to is not None:
            together.setdefault(line.run.sheet.operation, []).append(line)
    found = []
    for operation, lines in together.items():
        share = recovery_percent(
            charged_lpa=sum(line.charged_ul for line in lines) / MICRO,
            recovered_lpa=sum(line.recovered_ul for line in lines) / MICRO,
        )
        found.append(_judged(operation, share, len(lines), worked))
    return found


def _judged(operation: str, share: float, runs: int, worked: Yield) -> Fact:
    label, text = f"Recovered, {operation}s", figures.percent(share, 2)
    row = usual_figure(f"loss in all, {operation}", site_day(worked.period.opened_at))
    number = f"mean of {runs} run{'' if runs == 1 else 's'}"
    if row is None or row.expected_millionths is None:
        return Fact(label, text, "%", note=number)
    usual, u95 = row.expected_millionths / MICRO, COVERAGE_FACTOR * row.spread_millionths / MICRO
    amber, red = loss_limits_percent(usual_percent=usual, u95_percent=u95, runs=runs)
    most = max(100.0, most_recovery_percent(usual_loss_percent=usual, u95_percent=u95 / sqrt(runs)))
    if share > most:
        said = f"{number}; more than was charged: a dip or a strength is biased"
        return Fact(label, text, "%", note=said, state=OUT)
    said = f"{number}; looked into below {figures.percent(100.0 - amber)} %, red below {figures.percent(100.0 - red)} %"
    judged = judged_loss(100.0 - share, usual_percent=usual, u95_percent=u95, runs=runs)
    return Fact(label, text, "%", note=said, state={Said.AMBER: LOOK, Said.RED: OUT}.get(judged))


def _of_malt(worked: Yield) -> list[Fact]:
    number = len(worked.mashes)
    facts = [
        Fact(
            "Malt",
            figures.number(worked.malt_kilograms, 0),
            "kg",
            note=f"of {number} mash{'' if number == 1 else 'es'}, each by the share of its wash that was charged",
        )
    ]
    found = worked.lpa_per_tonne
    if found is None:
        return facts
    sure = worked.u95_lpa_per_tonne or 0.0
    predicted = worked.predicted
    facts.append(
        Fact(
            "Yield",
            f"{figures.number(found, 1)} ± {figures.number(sure, 1)}",
            "LPA/t",
            note=f"malt promised {figures.number(predicted, 1)}"
            if predicted
            else "what the malt promised is not known",
        )
    )
    if worked.efficiency is not None and predicted:
        facts.append(_efficiency(worked, predicted, sure))
    return facts


def _efficiency(worked: Yield, predicted: float, sure: float) -> Fact:
    efficiency, settling = worked.efficiency or 0.0, worked.settling
    text = figures.percent(efficiency)
    if worked.period.ended_at is None:
        return Fact("Of what the malt promised", text, "%", note="so far; not judged before the period ends")
    if not settling.judged:
        note = (
            f"not judged: {settling.charges} charges since {settling.since}, "
            f"{settling.needed} until the feints are steady"
        )
        return Fact("Of what the malt promised", text, "%", note=note)
    over = efficiency - 100.0 > 100.0 * sure / predicted
    note = "more than the malt can give: a weight, a gauge or the analysis is wrong" if over else ""
    return Fact("Of what the malt promised", text, "%", note=note, state=OUT if over else None)
