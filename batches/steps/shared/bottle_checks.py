"""Bottles checked along the line: their lines on the sheet, what each held, and what all of them come to.

A bottle is checked every 15 to 30 minutes (common practice, no source), by its contents at 20 °C or by its net weight,
from which the contents follow by the strength of what is filled. Strength is read at the start, the middle and the end.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from math import fsum
from typing import Final

from batches.sheets import fields
from batches.sheets.sheet import Problem, Rows
from batches.sheets.typed.completed import Completed, Written
from batches.steps.shared.site_figures import set_figure
from distillery.clock.reading import site_day
from distillery.process.bottling import Limits, Packages, limits, millilitres_of_grams, packages
from distillery.rules.packaged import error_bands

MILLILITRES_A_CENTILITRE: Final = 10.0
MOST_MILLILITRES: Final = "20000"
FEW: Final = "packages below T1, most"

CHECKS: Final = Rows(
    heading="Bottles checked",
    one="check",
    each="checked_at",
    within="filling_head",
    least=0,
    items=(
        fields.when("checked_at", "Checked at"),
        fields.count("filling_head", "Filling head", usual=("1", "40"), required=False),
        fields.number("fill_millilitres", "Fill at 20 °C", "mL", high=MOST_MILLILITRES, required=False),
        fields.number("net_grams", "Net weight", "g", high=MOST_MILLILITRES, required=False),
        fields.percent("checked_percent", "Strength at 20 °C", usual=("36", "65"), decimals=2, required=False),
        fields.text("part_of_run", "Part of the run", choices=("start", "middle", "end"), longest=20, required=False),
    ),
)


@dataclass(frozen=True, slots=True)
class Check:
    """One bottle checked: when, what it held (mL at 20 °C) and how strong it was (% vol), each where it was read."""

    at: datetime
    fill_ml: float | None
    percent: float | None
    part: str = ""


def checks_of(written: Completed) -> list[Check]:
    """What was checked, in order of time; lines without a time are left out."""
    found = [
        Check(
            line.moment("checked_at"),
            _fill(written, line),
            line.real("checked_percent") if line.has("checked_percent") else None,
            line.text("part_of_run", ""),
        )
        for line in written.rows
        if line.has("checked_at")
    ]
    return sorted(found, key=lambda one: one.at)


def mean_strength(written: Completed) -> float | None:
    """Mean of the strengths read along the line, or the one written for the whole; None where none was read."""
    read = [one.real("checked_percent") for one in written.rows if one.has("checked_percent")]
    if written.has("mean_strength_percent"):
        return written.real("mean_strength_percent")
    return fsum(read) / len(read) if read else None


def mean_fill_ml(written: Completed) -> float | None:
    """Mean fill as it was written for the whole, or of the bottles checked; None where none was measured."""
    if written.has("mean_fill_millilitres"):
        return written.real("mean_fill_millilitres")
    fills = [one.fill_ml for one in checks_of(written) if one.fill_ml is not None]
    return fsum(fills) / len(fills) if fills else None


def day_of(written: Completed) -> date:
    """The day whose figures a bottling is held to."""
    return site_day(written.moment("at"))


def nominal_ml(written: Completed) -> float:
    """What the label says a bottle holds."""
    return MILLILITRES_A_CENTILITRE * written.real("bottle_centilitres")


def limits_of(written: Completed) -> Limits:
    """T1 and T2 of the bottle as in force that day. Raises NoRuleInForce, OutsideTable."""
    return limits(nominal_ml(written), error_bands(day_of(written)))


def packages_of(written: Completed) -> Packages:
    """The bottles checked against the packers' rules. Raises CannotReach where none was, NoRuleInForce."""
    fills = [one.fill_ml for one in checks_of(written) if one.fill_ml is not None]
    return packages(fills, limits_of(written), few_percent=set_figure(FEW, day_of(written)))


def checks_are_whole(written: Completed) -> Iterator[Problem]:
    """A check says a fill one way, or a strength."""
    for index, line in enumerate(written.rows):
        if line.has("fill_millilitres") and line.has("net_grams"):
            said = "The bottle is written by its fill and by its net weight: leave one of them blank."
            yield Problem("net_grams", index, said)
        elif not any(line.has(name) for name in ("fill_millilitres", "net_grams", "checked_percent")):
            yield Problem("fill_millilitres", index, "Nothing was checked on this line: write a fill or a strength.")


def _fill(written: Completed, line: Written) -> float | None:
    if line.has("fill_millilitres"):
        return line.real("fill_millilitres")
    if not line.has("net_grams"):
        return None
    percent = line.real("checked_percent") if line.has("checked_percent") else None
    if percent is None:
        percent = mean_strength(written)
    if percent is None and not written.has("label_percent"):
        return None
    return millilitres_of_grams(
        line.real("net_grams"), percent20=written.real("label_percent") if percent is None else percent
    )
