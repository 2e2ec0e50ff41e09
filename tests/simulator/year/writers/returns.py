"""Bottles that come back of a home-use delivery, a few of them spoilt; these are destroyed while somebody looks on."""

from datetime import datetime, timedelta

import numpy as np

from tests.simulator.month import Month, Row

from .papers import NOTE, destroyed

COLUMNS = {
    "returns_inward": [
        *("return", "at", "product", "bottle_centilitres", "label_percent", "bottles", "status", "came_from"),
        *("document", "reason", "drawback_reference", "condition", "spoilt_bottles"),
    ]
}
# Which of the deliveries for home use came back in part: the third of gin, and the tenth.
WHICH = (2, 9)
BACK, SPOILT = 12, 5
# What left later would be back after the end of the year.
LAST_SOLD = "2027-02-20"


def write(year: Month, rng: np.random.Generator) -> None:
    """Three weeks after they left; what is spoilt is destroyed within the next ten days."""
    sold = [
        row
        for row in year.rows["removals"]
        if row["kind"] == "home use" and row["product"] == "gin" and row["bottles"] >= BACK and row["at"] < LAST_SOLD
    ]
    for row in (sold[place] for place in WHICH if place < len(sold)):
        at = datetime.strptime(row["at"], NOTE) + timedelta(days=21)
        record, n = year.number("RI")
        stock: Row = {name: row[name] for name in ("product", "bottle_centilitres", "label_percent")}
        year.rows["returns_inward"].append(
            {
                "return": record,
                "at": at.strftime(NOTE),
                **stock,
                "bottles": BACK,
                "status": "duty paid, drawback claimed",
                "came_from": row["consignee"],
                "document": f"RT-{600 + n}",
                "reason": "labels came off in the wet",
                "drawback_reference": f"DB-{80 + n}",
                "condition": "mixed",
                "spoilt_bottles": SPOILT,
            }
        )
        removal, m = year.number("RM")
        gone = at + timedelta(days=int(rng.integers(4, 10)), hours=1)
        year.rows["removals"].append(
            {
                "removal": removal,
                "at": gone.strftime(NOTE),
                **stock,
                "bottles": SPOILT,
                "kind": "destroyed under witness",
                **destroyed(m),
            }
        )
