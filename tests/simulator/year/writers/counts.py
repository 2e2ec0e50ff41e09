"""Counts of the stores at the end of each quarter: what is found of every lot that is still there."""

import numpy as np

from tests.simulator.month import Month

from .deliveries import COLUMNS as OF_DELIVERIES
from .used import uses_of

COLUMNS = {
    **OF_DELIVERIES,
    "material_counts": ["count", "counted_at", "place", "material", "lot", "kilograms", "pieces", "reason"],
}
QUARTER_ENDS = ("2026-06-30", "2026-09-30", "2026-12-31", "2027-03-30")
LEAST_KG = 0.5


def write(year: Month, rng: np.random.Generator) -> None:
    """What the stores hold by deliveries and uses, and of now and then a lot a little less."""
    uses = uses_of(year)
    there = {(row["material"], row["lot"]): row for row in year.rows["material_receipts"]}
    lost: dict[str, float] = {}
    for day in QUARTER_ENDS:
        at = f"{day}T15:00"
        record, _ = year.number("CM")
        for lot in uses.of:
            delivery = there[lot.material, lot.code]
            if delivery["received_at"] > at or lot.material == "cask":
                continue
            weighed = delivery["kilograms"] is not None
            book = (delivery["kilograms"] or delivery["pieces"]) - uses.until(lot, at) - lost.get(lot.code, 0.0)
            if book < (LEAST_KG if weighed else 1):
                continue
            short = _short(rng, book, weighed=weighed)
            lost[lot.code] = lost.get(lot.code, 0.0) + short
            year.rows["material_counts"].append(
                {
                    "count": record,
                    "counted_at": at,
                    "place": "Dry store",
                    "material": lot.material,
                    "lot": lot.code,
                    "kilograms": round(book - short, 3) if weighed else None,
                    "pieces": None if weighed else round(book - short),
                    "reason": "counted, as booked" if not short else "broken or spilt, not written down then",
                }
            )


def _short(rng: np.random.Generator, book: float, *, weighed: bool) -> float:
    """What is missing of a lot: usually nothing. Never so much that its later uses could not be."""
    if rng.random() < 0.8:
        return 0.0
    return round(min(0.05, 0.003 * book), 3) if weighed else float(min(4, int(book * 0.004)))
