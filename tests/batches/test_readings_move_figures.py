"""A reading moves the figure it belongs to as far as the posting says: each one moved a little and worked out anew."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

import pytest

import batches
from batches.cleaned import BETWEEN_CLEANINGS
from batches.records.posting import drafts_of
from batches.running.runs import BETWEEN_READINGS
from batches.sheets.register import all_sheets
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import read_sheet
from batches.steps import STEPS, sheet_of
from distillery.plant.models import Kind as VesselKind
from distillery.rules.models import UsualFigure
from ledger.posting.drafts import FigureTaken

from .figures_of_steps import DECLARED, FERMENTATION, TRANSFER, filled, malt
from .posted_steps import SPIRIT_CHARGE, SPIRIT_FINISH
from .tiny_plant import gauge

__all__ = ["filled", "malt"]


POSTING = [sheet for sheet in STEPS if sheet.moments[-1].post is not None]


# A name with a part left open has to say at least this much of itself.
LEAST_SAID = 12


# -- how far a reading moves a figure


def drafted(kind: str, values: Mapping[str, str], rows: list[dict[str, str]]) -> dict[tuple[str, int], FigureTaken]:
    filled = read_sheet(sheet_of(kind), values, rows, site=Site(), number="X1")
    figures = [figure for draft in drafts_of(filled).values() for figure in draft.figures]
    return {(figure.name, place): figure for place, figure in enumerate(figures)}


FILL_ROWS = [
    {"cask": "C1", "tare_kg": "50", "gross_kg": "230", "celsius": "17.5", "hydrometer_percent": "63.6"},
    {"cask": "C2", "tare_kg": "49", "gross_kg": "228", "celsius": "16.0", "hydrometer_percent": "63.0"},
]


SPIRIT = SPIRIT_CHARGE | SPIRIT_FINISH | gauge("spirit_before", "90", "69.0", "15")


CASES: dict[str, tuple[dict[str, str], list[dict[str, str]]]] = {
    "spirit_run": (SPIRIT, []),
    "transfer": (TRANSFER | gauge("to_before", "150", "66.0", "12") | gauge("to_after", "449", "68.5", "17"), []),
    "reduction": (
        {
            "at": "2027-03-06T09:00",
            "vessel": "VA",
            "water_kg": "128",
            **gauge("before", "1000", "71.2", "16"),
            **gauge("after", "1121", "63.4", "22"),
        },
        [],
    ),
    "cask_fill": (
        {
            "at": "2027-03-06T10:00",
            "vat": "VA",
            **gauge("vat_before", "1000", "63.5", "18"),
            **gauge("vat_after", "600", "63.5", "18"),
        },
        FILL_ROWS,
    ),
    "fermentation": (FERMENTATION | DECLARED, []),
}


STEPS_OF = {
    "dip_mm": 1.0,
    "celsius": 0.1,
    "hydrometer_percent": 0.1,
    "kg": 0.1,
    "gravity": 0.0001,
    "litres": 1.0,
    "percent": 0.01,
}


def moved(text: str, column: str, sign: int) -> tuple[str, float]:
    """The reading one step of its instrument further, as it would be written, and that step."""
    step = next(size for ending, size in STEPS_OF.items() if column.endswith(ending))
    return f"{float(text) + sign * step:.4f}", step


@pytest.mark.parametrize("kind", list(CASES))
def test_a_reading_moves_its_figure_as_far_as_is_said(kind: str, malt: None) -> None:
    values, rows = CASES[kind]
    there, checked = drafted(kind, values, rows), 0
    for key, figure in there.items():
        for part, slope in figure.parts:
            column, _, cask = part.partition("@")
            off = []
            for sign in (1, -1):
                changed, lines = dict(values), [dict(row) for row in rows]
                block = next(row for row in lines if row["cask"] == cask) if cask else changed
                block[column], step = moved(block[column], column, sign)
                again = drafted(kind, changed, lines)[key]
                off.append(again.value - (again.expected if again.expected and not again.like else 0.0))
            assert slope == pytest.approx((off[0] - off[1]) / (2 * step), rel=0.02, abs=1e-5), (key, part)
            checked += 1
    assert checked > 0


# -- what a site holds usual


def test_every_usual_figure_a_site_starts_with_is_some_steps(db: None) -> None:
    """Each is asked for by its name in the sources, or by a name with a part of it left to the step ('{…}')."""
    sources = "".join(path.read_text(encoding="utf-8") for path in Path(batches.__file__).parent.rglob("*.py"))
    names = set(UsualFigure.objects.values_list("name", flat=True))
    # What is asked of a run while it is on, of a vessel's book or its cleaning is no figure of a step.
    names -= {f"{BETWEEN_READINGS}, {sheet.operation}" for sheet in all_sheets() if sheet.running}
    names -= {f"{BETWEEN_CLEANINGS}, {kind}" for kind in VesselKind.values}
    said = re.findall(r'f"([^"\n]*\{[^"\n]*)"', sources)
    parts = [[re.escape(part) for part in re.split(r"\{[^}]*\}", one)] for one in said]
    patterns = [re.compile(".+".join(one)) for one in parts if sum(map(len, one)) >= LEAST_SAID]
    asked = {name for name in names if f'"{name}"' in sources or any(one.fullmatch(name) for one in patterns)}
    assert names - asked == set()
    assert len(names) > 20
