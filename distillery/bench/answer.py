"""What a sum at the bench comes to: results, the way to them, what each reading adds, and where it may go on.

Plain frozen values, so that the page and the slip show the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from distillery import figures
from distillery.alcoholometry.gauging.chain import ChainStep, Contribution
from distillery.pages import Cell, Column, Fact, Row, Table

COVERAGE_FACTOR = 2.0
PLUS_MINUS = "±"


@dataclass(frozen=True, slots=True)
class Carry:
    """A record that the result can be taken into: its kind, what the link says, values by the name of their box."""

    kind: str
    text: str
    values: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class NextSum:
    """Another sum at the bench that begins with what this one gave."""

    tool: str
    text: str
    values: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class GaugeRead:
    """The readings of one vessel that a sum was made from, by the names that every gauge of a sheet has for them."""

    vessel: str
    readings: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Answer:
    """The result of one sum. `remarks` are cautions about the figures, `notes` what they rest on.

    `gauge` are its readings where a record's gauge would be made from the same ones.
    """

    facts: tuple[Fact, ...]
    steps: tuple[ChainStep, ...] = ()
    contributions: Table | None = None
    remarks: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    carries: tuple[Carry, ...] = ()
    next_sums: tuple[NextSum, ...] = field(default=())
    gauge: GaugeRead | None = None

    @property
    def step_table(self) -> Table | None:
        """The steps from reading to result."""
        if not self.steps:
            return None
        return Table(
            caption="From reading to result",
            columns=(Column("Step"), Column("Value", numeric=True), Column("Formula"), Column("Source")),
            rows=[
                Row([Cell(step.name), Cell(_valued(step.value, step.unit)), Cell(step.formula), Cell(step.source)])
                for step in self.steps
            ],
            empty="No steps.",
            wide=True,
        )


def result(label: str, value: float, unit: str, places: int, standard_uncertainty: float | None = None) -> Fact:
    """One result with ± two standard uncertainties behind it, where there is one."""
    note = "" if standard_uncertainty is None else plus_minus(standard_uncertainty, places)
    return Fact(label, figures.number(value, places), unit, note=note)


def plus_minus(standard_uncertainty: float, places: int) -> str:
    """'± 0.14': two standard uncertainties, with more decimals where the figure's own would show none of it."""
    expanded = COVERAGE_FACTOR * standard_uncertainty
    shown = places
    while expanded and shown < min(places + 3, 9) and round(expanded, shown) == 0:
        shown += 1
    return f"{PLUS_MINUS} {figures.number(expanded, shown)}"


def contribution_table(rows: Iterable[Contribution]) -> Table:
    """What each reading of a gauge adds to the uncertainty of its alcohol and of its strength."""
    return Table(
        caption="What each reading adds",
        note="effect of one standard uncertainty, with its sign",
        columns=(
            Column("Reading"),
            Column("Instrument"),
            Column("Value", numeric=True),
            Column("Standard uncertainty", numeric=True),
            Column("On the alcohol", numeric=True, unit="LPA"),
            Column("On the strength", numeric=True, unit="% vol"),
        ),
        rows=[
            Row(
                [
                    Cell(row.reading.capitalize()),
                    Cell(row.instrument),
                    Cell(_valued(row.value, row.unit)),
                    Cell(f"{row.standard_uncertainty:.2g} {row.unit}"),
                    Cell(figures.number(row.contribution_lpa, 3, figures.SIGNED)),
                    Cell(figures.number(row.contribution_percent, 3, figures.SIGNED)),
                ]
            )
            for row in rows
        ],
        empty="Nothing was read, so nothing adds to the uncertainty.",
        wide=True,
    )


def _valued(value: float, unit: str) -> str:
    places = 6 if not unit else 4 if abs(value) < 10 else 3
    return f"{figures.number(value, places)} {unit}".strip()
