"""What goes into the third still with the spirit: botanicals by basket for gin, charcoal for vodka."""

from typing import Any

import numpy as np

from tests.simulator.month import Month, Row

from .used import Lot, uses_of

COLUMNS = {
    "third_still_runs": [
        *(
            "third_still",
            "charge_water_litres",
            "legal_name",
            "charcoal_lot",
            "botanical_lot",
            "botanical",
            "basket",
            "botanical_kg",
        ),
    ]
}
# A new lot of each botanical comes with each quarter of the year, of charcoal once in half a year.
CHARGES_OF_A_LOT = 8


def write(year: Month, rng: np.random.Generator) -> None:
    """Gives each gin its lines of botanicals, weighed a little off the recipe, and each vodka its lot of charcoal."""
    written: list[Row] = []
    gins = 0
    for row in year.rows["third_still_runs"]:
        charged = row.pop("charged_alcohol", None)
        if row["kind"] != "gin":
            written.append(_with_charcoal(year, row))
            continue
        row |= {"charcoal_kg": None, "legal_name": "gin"}
        if charged is None:
            written.append(row)
            continue
        lines = _lines(year, row, charged, 1 + gins // CHARGES_OF_A_LOT, rng)
        # What stands once on a sheet stands on each of its rows.
        written += [{**row, **line} for line in lines]
        gins += 1
    year.rows["third_still_runs"] = written


def _with_charcoal(year: Month, row: Row) -> Row:
    code = f"CH{row['charged_at'][2:4]}{1 + (int(row['charged_at'][5:7]) > 6)}"
    row["charcoal_lot"] = code
    uses_of(year).note(Lot("charcoal", "active charcoal", code), row["charged_at"], row["charcoal_kg"])
    return row


def _lines(year: Month, row: Row, charged: float, lot: int, rng: np.random.Generator) -> list[dict[str, Any]]:
    baskets, lines = int(row["baskets"]), []
    for place, (botanical, grams) in enumerate(year.plant.botanicals):
        code = f"{botanical[:2].upper()}{place + 1}{lot:02d}"
        kilograms = round(charged * grams / 1000.0 * float(rng.normal(1.0, 0.004)), 3)
        uses_of(year).note(Lot("botanical", botanical, code), row["charged_at"], kilograms)
        # The heavy ones lie in all baskets; of a light one a basket would hold next to nothing.
        shares = baskets if grams >= 4.0 else 1
        parts = [round(kilograms / shares, 3)] * (shares - 1)
        parts.append(round(kilograms - sum(parts), 3))
        for basket, part in enumerate(parts, start=1 if shares > 1 else 1 + place % baskets):
            lines.append({"botanical_lot": code, "botanical": botanical, "basket": basket, "botanical_kg": part})
    return lines
