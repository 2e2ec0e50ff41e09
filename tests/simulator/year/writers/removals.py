"""Removals: bottles that leave bond in every way there is, with the papers of each, to buyers who are made up."""

from datetime import datetime, timedelta
from typing import Any

from tests.simulator.month import Month
from tests.simulator.year.calendar import START, hour_of, is_silent, last_mornings

from .papers import PAPERS, REPORTED, destroyed, exported, reported, under_bond

COLUMNS = {"removals": [*PAPERS, *REPORTED, "bottles_arrived"]}
PRODUCTS = ("gin", "vodka", "whisky")
# The last movement under bond, of which nothing has been heard at the end of the year.
UNHEARD = datetime(2027, 3, 22, 10, 20)
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
        month.at(hour_of(UNHEARD), self.remove, "gin", 2)

    def remove(self, asked_for: str = "", way_no: int = 0) -> None:
        """Sends cases out of bond; never more than there are, two layers counted short."""
        month, rng, habits = self.month, self.month.rng, self.habits
        if is_silent(month.now):
            return
        product = asked_for or str(rng.choice(PRODUCTS))
        drawn = way_no or int(rng.choice(len(_WAYS), p=[one[1] for one in _WAYS]))
        way, _, cases, buyers = _WAYS[drawn]
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
        row |= _papers(way, START + timedelta(hours=month.now), n, bottles, is_heard=not asked_for)
        month.rows["removals"].append(row)
        month.done("removal", n, record, lpa=bottles * habits.bottle_centilitres / 100.0 * label / 100.0, way=way)


def _papers(way: str, at: datetime, n: int, bottles: int, *, is_heard: bool) -> dict[str, Any]:
    """What the law asks of this way, and the word from the other end within two days to a week."""
    if way == "destroyed under witness":
        return destroyed(n)
    if way not in ("under bond", "export"):
        return {}
    papers = under_bond(at, n) if way == "under bond" else exported(at, n)
    if not is_heard:
        return papers
    back = at + timedelta(days=2 + n % 3, hours=3)
    if hour_of(back) > last_mornings()[-1]:
        return papers
    return papers | reported(back, str(n)) | {"bottles_arrived": bottles}
