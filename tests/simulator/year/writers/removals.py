"""Removals: bottles that leave bond in every way there is, to buyers who are made up."""

from typing import Any

from tests.simulator.month import Month
from tests.simulator.year.calendar import is_silent

COLUMNS = {"removals": ["consignee", "document"]}
# How often bottles leave which way, and how many cases at most; the buyers are made up.
_WAYS = (
    ("home use", 0.52, 40, ("Tolverne Wines, 3 Quay Street, Harrow Sound", "The Long Store, Mill Lane, Ambery")),
    ("export", 0.2, 60, ("Brennhaus Nordvik, Havnegata 9, Nordvik",)),
    ("under bond", 0.18, 60, ("Saltmarsh Bonded Store, Dock Road, Harrow Sound",)),
    ("samples", 0.06, 1, ("Site laboratory, Harrowmere",)),
    ("destroyed under witness", 0.04, 2, ("Harrowmere",)),
)


class Removals:
    """Cases that are loaded by day."""

    def __init__(self, year: Month) -> None:
        self.month = year
        self.habits = year.plant.habits

    def plan(self) -> None:
        month = self.month
        for hours in month.rng.uniform(30.0, month.hours - 5.0, self.habits.months * self.habits.removals):
            # From eight to five.
            day, part = divmod(float(hours), 24.0)
            month.at(24.0 * day + 2.0 + 9.0 * part / 24.0, self.remove)

    def remove(self) -> None:
        """Sends cases out of bond; never more than there are, two layers counted short."""
        month, rng, habits = self.month, self.month.rng, self.habits
        if is_silent(month.now):
            return
        product = str(rng.choice(habits.products))
        way, _, cases, buyers = _WAYS[int(rng.choice(len(_WAYS), p=[one[1] for one in _WAYS]))]
        wanted = habits.bottles_per_case * int(rng.integers(1, cases + 1))
        spare = month.bottles.get(product, 0) - 2 * habits.bottles_per_layer
        bottles = min(wanted, spare // habits.bottles_per_case * habits.bottles_per_case)
        if bottles <= 0:
            return
        record, n = month.number("RM")
        month.bottles[product] -= bottles
        label = habits.label_percent[product]
        row: dict[str, Any] = {
            "removal": record,
            "at": month.stamp(month.now),
            "product": product,
            "bottle_centilitres": habits.bottle_centilitres,
            "label_percent": label,
            "bottles": bottles,
            "kind": way,
            "consignee": str(rng.choice(buyers)),
            "document": f"HM-{4000 + 7 * n}",
        }
        month.rows["removals"].append(row)
        month.done("removal", n, record, lpa=bottles * habits.bottle_centilitres / 100.0 * label / 100.0, way=way)
