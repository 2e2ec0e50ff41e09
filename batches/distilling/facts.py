"""A distillation period in figures, as its page, its print and its record show them."""

from __future__ import annotations

from batches.distilling.yields import Yield
from distillery import figures
from distillery.pages import OUT, Fact
from distillery.plant.models import MICRO


def period_facts(worked: Yield) -> list[Fact]:
    """What a period came to, or has come to so far."""
    period = worked.period
    change = worked.feints_close_ul - worked.feints_open_ul
    ended = period.ended_at is not None
    facts = [
        Fact("Runs", str(len(worked.runs))),
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
    return facts


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
