"""Yeast: dried, its lots as they are used."""

import numpy as np

from tests.simulator.month import Month

from .used import Lot, uses_of

COLUMNS = {"fermentations": ["yeast_form"]}


def write(year: Month, rng: np.random.Generator) -> None:
    """Says the form of the yeast, and notes what was used of each lot."""
    uses = uses_of(year)
    lots: dict[str, Lot] = {}
    for row in year.rows["fermentations"]:
        row["yeast_form"] = "dried"
        code = row["yeast_lot"]
        if code not in lots:
            said = (
                ("yeast_form", "dried"),
                ("viability_percent", int(rng.integers(90, 98))),
                ("dry_matter_percent", round(float(rng.uniform(93.0, 95.0)), 1)),
            )
            lots[code] = Lot("yeast", "distilling yeast", code, said)
        uses.note(lots[code], row["pitched_at"], row["yeast_kg"])
