"""The values of a sheet as they were read: figures, times, vessels and records by the names of their fields."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal

from batches.models import Record
from batches.sheets.sheet import Sheet
from batches.sheets.site import Site
from batches.sheets.typed.parsing import is_missing
from distillery.plant.models import Vessel
from ledger.posting.accounts import AccountRef, vessel_account

Value = Decimal | int | datetime | str | Vessel | Record


class Ungaugeable(ValueError):
    """Readings that give no quantity: the field they hang on, and a sentence."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field
        self.sentence = sentence


class Values:
    """Values of one block of fields: the sheet itself, or a repeating line, which sees what stands above it."""

    def __init__(
        self,
        sheet: Sheet,
        site: Site,
        values: Mapping[str, Value],
        typed: Mapping[str, str],
        above: Values | None = None,
    ) -> None:
        self.sheet = sheet
        self.site = site
        self.values = values
        self.typed = typed
        self._above = above

    def has(self, name: str) -> bool:
        """True where something was written in the field."""
        return name in self.values or (self._above is not None and self._above.has(name))

    def is_missing(self, name: str) -> bool:
        """True where it is written that nobody took this reading."""
        return is_missing(self.typed.get(name, ""))

    def value(self, name: str) -> Value:
        """Whatever was written in the field. Raises Ungaugeable where nothing was."""
        if name in self.values:
            return self.values[name]
        if self._above is not None:
            return self._above.value(name)
        raise Ungaugeable(name, f"{self.sheet.field(name).label} is not written.")

    def decimal(self, name: str) -> Decimal:
        """A measured figure as written."""
        value = self.value(name)
        if isinstance(value, Decimal):
            return value
        raise TypeError(f"{name} is not a figure")

    def real(self, name: str) -> float:
        """A measured figure for alcoholometry."""
        return float(self.decimal(name))

    def bare(self, name: str) -> float:
        """A measured figure or a whole number, as a number."""
        value = self.value(name)
        if isinstance(value, (Decimal, int)):
            return float(value)
        raise TypeError(f"{name} is not a number")

    def whole(self, name: str) -> int:
        """A whole number."""
        value = self.value(name)
        if isinstance(value, int):
            return value
        raise TypeError(f"{name} is not a whole number")

    def text(self, name: str, default: str = "") -> str:
        """A text or choice; the default where nothing was written."""
        if not self.has(name):
            return default
        value = self.value(name)
        if isinstance(value, str):
            return value
        raise TypeError(f"{name} is not a text")

    def moment(self, name: str) -> datetime:
        """A time with its zone."""
        value = self.value(name)
        if isinstance(value, datetime):
            return value
        raise TypeError(f"{name} is not a time")

    def vessel(self, name: str) -> Vessel:
        """A vessel of the site."""
        value = self.value(name)
        if isinstance(value, Vessel):
            return value
        raise TypeError(f"{name} is not a vessel")

    def record(self, name: str) -> Record:
        """Another record."""
        value = self.value(name)
        if isinstance(value, Record):
            return value
        raise TypeError(f"{name} is not a record")

    def account(self, name: str) -> AccountRef:
        """The account of the vessel written in a field."""
        return vessel_account(self.vessel(name))
