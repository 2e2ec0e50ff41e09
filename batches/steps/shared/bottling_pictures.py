"""Fill and strength of a bottling against time, with what they are held to, as they were checked along the line."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from datetime import datetime
from math import fsum
from typing import Final

from batches.sheets.typed.completed import Completed
from batches.sheets.typed.values import Ungaugeable
from batches.steps.shared.bottle_checks import Check, checks_of, limits_of
from batches.steps.shared.bottling_line import tolerance_of
from distillery import figures
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.charts.plots import Line, Plot
from distillery.rules.in_force import NoRuleInForce

SECONDS_A_MINUTE: Final = 60.0
# One check alone is a dot in the middle of nothing.
LEAST_CHECKS: Final = 2

Held = tuple[str, float]


def checks_against_time(written: Completed, now: datetime) -> list[Plot]:
    """Mean fill and mean strength at each time they were checked; a picture is left out below two checks of it."""
    checks = checks_of(written)
    return [
        *_plot("fill", "Fill against time", "mL", checks, lambda one: one.fill_ml, lambda: _fills(written)),
        *_plot("strength", "Strength against time", "% vol", checks, lambda one: one.percent, lambda: _label(written)),
    ]


def _plot(
    name: str,
    title: str,
    unit: str,
    checks: Iterable[Check],
    of: Callable[[Check], float | None],
    held_to: Callable[[], list[Held]],
) -> list[Plot]:
    by_time: dict[datetime, list[float]] = defaultdict(list)
    for one in checks:
        if (value := of(one)) is not None:
            by_time[one.at].append(value)
    if len(by_time) < LEAST_CHECKS:
        return []
    first = min(by_time)
    points = [((at - first).total_seconds() / SECONDS_A_MINUTE, fsum(read) / len(read)) for at, read in by_time.items()]
    ends = (0.0, points[-1][0])
    try:
        limits = held_to()
    except (AlcoholometryError, Ungaugeable, NoRuleInForce):
        limits = []
    return [
        Plot(
            name,
            title,
            f"minutes from {figures.clock(first)}",
            f"{title.split()[0]}, {unit}",
            (
                Line("Mean at each check", tuple(points)),
                *(Line(label, tuple((along, value) for along in ends), dashed=True) for label, value in limits),
            ),
            places=1 if unit == "mL" else 2,
        )
    ]


def _fills(written: Completed) -> list[Held]:
    held = limits_of(written)
    return [("Nominal", held.nominal_ml), ("T1", held.t1_ml), ("T2", held.t2_ml)]


def _label(written: Completed) -> list[Held]:
    label = written.real("label_percent")
    tolerance, _ = tolerance_of(written)
    return [("Label", label), ("Label less tolerance", label - tolerance), ("Label and tolerance", label + tolerance)]
