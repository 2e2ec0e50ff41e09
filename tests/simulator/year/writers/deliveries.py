"""Deliveries of materials: at the end of each month comes what is first used in the next, and a little more."""

import math
from collections import defaultdict
from datetime import datetime, timedelta

from tests.simulator.month import Month, Row
from tests.simulator.year.calendar import FIRST

from .used import Lot, uses_of

COLUMNS = {
    "material_receipts": [
        *("receipt", "received_at", "supplier", "delivery_note", "material", "what", "lot", "kilograms", "pieces"),
        *("yeast_form", "viability_percent", "dry_matter_percent"),
    ]
}
PIECES = {"bottle": 600, "closure": 500, "cask": 1, "filter sheet": 25}
# Sacks and boxes in which a weight comes.
SACK_KG = {"yeast": 10.0, "botanical": 1.0, "charcoal": 25.0}
SUPPLIERS = {
    "yeast": "Sallow Yeasts",
    "botanical": "Pell and Daughters, botanicals",
    "charcoal": "Carrow Charcoal",
    "bottle": "Ambery Glass",
    "closure": "Quay Closures",
    "cask": "Harrow Cooperage",
    "filter sheet": "Quay Closures",
}


def received(lot: Lot, used: float) -> float:
    """How much of a lot comes, by what is used of it in all: whole sacks, pallets or casks."""
    size = SACK_KG.get(lot.material) or float(PIECES[lot.material])
    spare = 1.0 if lot.material == "cask" else 1.04
    return size * math.ceil(spare * used / size)


def write_deliveries(year: Month) -> None:
    """One delivery of each supplier in a month in which something of theirs is used for the first time."""
    coming: dict[tuple[str, str], list[Lot]] = defaultdict(list)
    uses = uses_of(year)
    for lot, used in uses.of.items():
        coming[min(used)[0][:7], lot.material].append(lot)
    for (month, material), lots in sorted(coming.items()):
        record, n = year.number("MR")
        at = _delivered(month, n)
        for lot in lots:
            amount = received(lot, sum(one for _, one in uses.of[lot]))
            weighed = material in SACK_KG
            row: Row = {
                "receipt": record,
                "received_at": at,
                "supplier": SUPPLIERS[material],
                "delivery_note": f"{SUPPLIERS[material][:2].upper()}{7000 + 17 * n}",
                "material": material,
                "what": lot.what,
                "lot": lot.code,
                "kilograms": amount if weighed else None,
                "pieces": None if weighed else int(amount),
                **dict(lot.said),
            }
            year.rows["material_receipts"].append(row)


def _delivered(month: str, n: int) -> str:
    """The last working day before the month at two; of the first month of all its first morning."""
    day = datetime.strptime(month, "%Y-%m")
    if month == FIRST:
        return f"{month}-01T07:{15 + n % 40:02d}"
    day -= timedelta(days=1)
    while day.weekday() > 4:
        day -= timedelta(days=1)
    return day.strftime(f"%Y-%m-%dT14:{n % 40:02d}")
