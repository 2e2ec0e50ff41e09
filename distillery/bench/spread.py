"""How sure a sum is: the law of propagation over its inputs, for any number of results at once.

JCGM 100:2008, 5.1.2, sensitivities by differences on the sum itself (5.1.3). Inputs of one source (the hydrometer
that proved every part of a blend) add with their signs; others in quadrature.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from distillery import figures
from distillery.alcoholometry.uncertainty import Component, combined, sensitivity
from distillery.pages import Cell, Column, Row, Table

Values = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Input:
    """One input: its name, value, unit, standard uncertainty; `source` names what it shares with others."""

    name: str
    value: float
    unit: str
    standard_uncertainty: float
    step: float = 0.001
    source: str = ""


@dataclass(frozen=True, slots=True)
class Spread:
    """Results in the order of the calculation, and the signed effect of each input on each of them."""

    inputs: tuple[Input, ...]
    values: Values
    effects: tuple[Values, ...]

    def standard_uncertainty(self, position: int) -> float:
        """Of one result, in its unit."""
        return combined(
            Component(one.source or one.name, effects[position])
            for one, effects in zip(self.inputs, self.effects, strict=True)
        )

    def table(self, *heads: tuple[int, str, str]) -> Table:
        """What each input adds to the results named by position, label and unit."""
        return Table(
            caption="What each input adds",
            note="effect of one standard uncertainty, with its sign",
            columns=(
                Column("Input"),
                Column("Value", numeric=True),
                Column("Standard uncertainty", numeric=True),
                *(Column(f"On {label}", numeric=True, unit=unit) for _, label, unit in heads),
            ),
            rows=[
                Row(
                    [
                        Cell(one.name),
                        Cell(f"{one.value:.10g} {one.unit}".strip()),
                        Cell(f"{one.standard_uncertainty:.2g} {one.unit}".strip()),
                        *(Cell(figures.number(effects[position], 4, figures.SIGNED)) for position, _, _ in heads),
                    ]
                )
                for one, effects in zip(self.inputs, self.effects, strict=True)
            ],
            empty="Nothing was given with an uncertainty.",
            wide=True,
        )


def short_of_water(percent: float) -> tuple[Input, ...]:
    """What brings a strength below 0 to nothing: as an input of its own, uncertain by all of it; none for 0."""
    return (Input("Short of water's own reading", percent, "% vol", percent),) if percent else ()


def spread(calculate: Callable[[Values], Values], inputs: Sequence[Input]) -> Spread:
    """The results of `calculate` at the inputs, with the effect of each input's standard uncertainty.

    Raises what `calculate` raises; an input without uncertainty is not moved.
    """
    values = tuple(one.value for one in inputs)
    results = calculate(values)

    def effects(position: int, one: Input) -> Values:
        if not one.standard_uncertainty:
            return (0.0,) * len(results)
        slopes = sensitivity(
            lambda moved: calculate((*values[:position], moved, *values[position + 1 :])), one.value, step=one.step
        )
        return tuple(slope * one.standard_uncertainty for slope in slopes)

    return Spread(tuple(inputs), results, tuple(effects(n, one) for n, one in enumerate(inputs)))
