"""Places of casks as a sheet names them: what is unlikely about one, and which warehouses the site has."""

from __future__ import annotations

from batches.sheets.sheet import Note
from distillery.plant.models import Cask
from distillery.plant.places import WarehouseRow, no_such_place

LONGEST_WAREHOUSE = 40
LONGEST_PLACE = 20


def is_known_warehouse(name: str) -> bool:
    """True where a cask lies in a warehouse of that name, or its rows are entered."""
    return (
        WarehouseRow.objects.filter(warehouse=name).exists()
        or Cask.objects.filter(warehouse=name).exists()
        or Cask.objects.filter(listed_warehouse=name).exists()
    )


def unlikely_warehouse(name: str, field: str, row: int | None = None) -> list[Note]:
    """A remark where the site has no warehouse of that name."""
    if not name or is_known_warehouse(name):
        return []
    said = f"No cask lies in a warehouse '{name}' and it has no rows entered: is it written as it is elsewhere?"
    return [Note(field, row, said)]


def unlikely_place(warehouse: str, row: str, tier: str, field: str, line: int | None = None) -> list[Note]:
    """A remark where the site's rows are entered and this place is none of them."""
    said = no_such_place(warehouse, row, tier)
    return [Note(field, line, said)] if said else []
