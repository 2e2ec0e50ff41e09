"""Malt: who sent it, under which lot of their own, with which analysis."""

import numpy as np

from tests.simulator.month import Month

COLUMNS = {
    "intake": [
        *("supplier", "supplier_lot", "certificate", "soluble_extract_percent", "extract_basis", "extract_grind"),
        "fermentability_percent",
    ]
}
MALTINGS = ("Ambery Maltings", "Lower Sallow Maltings")
# Litres of pure alcohol a tonne for each per cent of fermentable extract: J. Inst. Brew. 102 (1996) 433-437.
OF_FERMENTABLE = 6.06


def write(year: Month, rng: np.random.Generator) -> None:
    """Adds the supplier's figures to every load; the analysis comes to the yield that is predicted of it."""
    for place, row in enumerate(year.rows["intake"]):
        extract = round(float(rng.uniform(77.2, 79.2)), 1)
        fermentable = row["predicted_spirit_yield_lpa_per_tonne"] / OF_FERMENTABLE
        row |= {
            "supplier": MALTINGS[place % 5 == 4],
            "supplier_lot": f"{'AM' if place % 5 != 4 else 'LS'}-{6100 + 13 * place}",
            "certificate": f"C{26000 + 31 * place}",
            "soluble_extract_percent": extract,
            "extract_basis": "as is",
            "extract_grind": "coarse",
            "fermentability_percent": round(100.0 * fermentable / extract, 1),
        }
