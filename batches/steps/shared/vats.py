"""What several steps say of a vat: its mix, whether it is mixed, which class of spirits and which years went in.

Strengths are % vol at 20 °C, alcohol in litres of pure alcohol. What is not written or cannot be worked with is left
out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from batches.sheets import fields
from batches.sheets.sheet import Field, Note, Problem
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.values import Ungaugeable
from batches.steps.shared.site_figures import set_figure
from batches.steps.shared.still_charges import day_of, gauged
from distillery import figures
from distillery.alcoholometry.mixing import Part
from distillery.alcoholometry.quantity import Quantity
from distillery.pages import LOOK, Fact
from distillery.process.reducing import is_mixed
from distillery.rules.in_force import NoRuleInForce

APART: Final = "strengths of a mixed vat apart, most"
TOP, BOTTOM = "top_percent", "bottom_percent"


def two_strengths() -> tuple[Field, Field]:
    """The fields of two strengths of one vat after mixing, as they are at 20 °C."""
    return (
        fields.percent(TOP, "Strength at the top, at 20 °C", short="Top", decimals=2, required=False),
        fields.percent(BOTTOM, "Strength at the bottom, at 20 °C", short="Bottom", decimals=2, required=False),
    )


def both_or_none(written: Completed, one: str = TOP, other: str = BOTTOM) -> list[Problem]:
    """What says something only beside another figure."""
    return [
        Problem(blank, None, f"{written.sheet.field(blank).label} is blank; two strengths say whether a vat is mixed.")
        for there, blank in ((one, other), (other, one))
        if written.has(there) and not written.has(blank)
    ]


def mixed(written: Completed) -> Iterable[Fact]:
    """Whether the vat was mixed, by its two strengths; nothing before they are written. Raises NoRuleInForce."""
    if not (written.has(TOP) and written.has(BOTTOM)):
        return
    top, bottom = written.real(TOP), written.real(BOTTOM)
    most = set_figure(APART, day_of(written))
    kept = is_mixed([top, bottom], apart_percent=most)
    note = f"{figures.percent(abs(top - bottom), 2)} apart; mixed within {figures.percent(most, 2)} % vol"
    yield Fact("Mixed", "yes" if kept else "no", note=note, state=None if kept else LOOK)


def not_mixed(written: Completed) -> list[Note]:
    """A vat that was not mixed when it was gauged: what its gauge says is not all that it holds."""
    try:
        found = [one for one in mixed(written) if one.state is not None]
    except NoRuleInForce:
        return []
    return [Note(TOP, None, f"The vat is not mixed: {one.note}. Mix it and gauge it again.") for one in found]


def part(quantity: Quantity) -> Part:
    """What a gauge says, for mixing."""
    return Part(quantity.litres20, quantity.percent20)


def gave(written: Completed, before: str, after: str) -> Part:
    """What a vat gave between two gauges: bulk, and its alcohol over its bulk as its strength. Raises Ungaugeable for a
    vat that gave nothing."""
    first, last = gauged(written, before), gauged(written, after)
    litres, lpa = first.litres20 - last.litres20, first.lpa - last.lpa
    if litres <= 0.0 or lpa < 0.0:
        raise Ungaugeable(written.gauge(after).name("dip_mm"), f"{written.sheet.gauge(after).label} gave nothing.")
    return Part(litres, min(100.0, 100.0 * lpa / litres))


def stages_said(stages: Sequence[str]) -> str:
    """The classes of spirits of vessels, each once."""
    return ", ".join(dict.fromkeys(stages))
