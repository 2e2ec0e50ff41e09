"""What a column of a record is called where people read it: its label and unit on the sheet.

The ledger keeps readings by the columns they were typed in, and the sheets are a floor above; they are told here when
the site starts. Without a sheet the words are those of the readings themselves.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

# Parts of a gauge, by the end of their column, in the words and units of the trade.
_PARTS = (
    ("dip_mm", "dip", "mm"),
    ("celsius", "temperature", "°C"),
    ("hydrometer_percent", "hydrometer reading", "% vol"),
    ("gross_kg", "gross weight", "kg"),
    ("tare_kg", "tare", "kg"),
    ("original_gravity", "original gravity", ""),
    ("final_gravity", "final gravity", ""),
    ("litres", "volume", "L"),
    ("percent", "strength", "% vol"),
)


@dataclass(frozen=True, slots=True)
class Words:
    """Label and unit of a column."""

    label: str
    unit: str

    @property
    def short(self) -> str:
        """The label without the vessel it is read at, for where that stands beside it: 'dip'."""
        last = self.label.rpartition(": ")[2]
        return f"{last[:1].lower()}{last[1:]}"

    def with_value(self, typed: str) -> str:
        """What was typed behind its short label, with its unit: 'dip 1054 mm'."""
        return " ".join(filter(None, (self.short, typed, self.unit)))


Asker = Callable[[str, str], Words | None]
_askers: list[Asker] = []


def ask_also(asker: Asker) -> None:
    """Adds a floor that knows the words of columns, by kind of record and column; called once when the site starts."""
    if asker not in _askers:
        _askers.append(asker)


def words_of(record_kind: str, column: str) -> Words:
    """Label and unit of a column of a kind of record, or of the name of a gauge."""
    for asker in _askers:
        known = asker(record_kind, column)
        if known is not None:
            return known
    for end, label, unit in _PARTS:
        if column == end or column.endswith(f"_{end}"):
            place = column.removesuffix(end).strip("_").replace("_", " ")
            return Words(f"{place[:1].upper()}{place[1:]}: {label}" if place else label.capitalize(), unit)
    words = column.replace("_", " ")
    return Words(f"{words[:1].upper()}{words[1:]}", "")
