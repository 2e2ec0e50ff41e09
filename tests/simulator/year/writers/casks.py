"""Casks that were bought new to the site: the lot each came in."""

from tests.simulator.month import Month

from .used import Lot, uses_of

COLUMNS = {"cask_fills": ["cask_lot"]}
WHAT = {"barrel": "bourbon barrels", "hogshead": "hogsheads", "butt": "butts"}


def write(year: Month) -> None:
    """First fills come out of a lot for each kind and month; casks filled before were the site's own already."""
    for row in year.rows["cask_fills"]:
        if row["fill_number"] != 1:
            continue
        code = f"{row['cask_kind'][:2].upper()}{row['at'][2:4]}{row['at'][5:7]}"
        row["cask_lot"] = code
        uses_of(year).note(Lot("cask", WHAT[row["cask_kind"]], code), row["at"], 1)
