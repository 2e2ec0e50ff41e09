"""What stands at the head of a vessel's gauges: its name, what it is gauged with, what its book holds."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import cached_property
from typing import Final

from batches.sheets.gauges import By
from batches.sheets.site import Site
from distillery import figures
from distillery.plant.outfit import DIP, GRAVITY, STRENGTH, TEMPERATURE, WEIGHT
from ledger.models import Balance

# What each way of gauging takes in hand, in the order of its readings.
IN_HAND: Final[Mapping[str, tuple[tuple[str, str], ...]]] = {
    By.SPIRIT_DIP: ((DIP, "rod"), (TEMPERATURE, "thermometer"), (STRENGTH, "hydrometer")),
    By.WASH_DIP: ((DIP, "rod"), (TEMPERATURE, "thermometer"), (GRAVITY, "saccharometer")),
    By.WEIGHT: ((WEIGHT, "scale"), (TEMPERATURE, "thermometer"), (STRENGTH, "hydrometer")),
    By.VOLUME: ((TEMPERATURE, "thermometer"), (STRENGTH, "hydrometer")),
    By.WEIGHT_AT_STRENGTH: ((WEIGHT, "scale"),),
}


class VesselHeads:
    """Names, instruments and books of the vessels of a sheet on a day; the books are read together, once."""

    def __init__(self, site: Site, day: date) -> None:
        self._site = site
        self._day = day

    def name(self, code: str) -> str:
        """The name of a vessel; blank where there is none of that code."""
        vessel = self._site.vessel(code) if code else None
        return vessel.name if vessel is not None else ""

    def about(self, code: str, by: str) -> str:
        """'rod DIP, thermometer THERM, hydrometer ALC, book 831.10 LPA'; blank where no vessel is named yet."""
        vessel = self._site.vessel(code) if code else None
        if vessel is None:
            return ""
        in_use = self._site.outfit(self._day, vessel=vessel).instruments
        said = [f"{word} {in_use[measures].code}" for measures, word in IN_HAND.get(by, ()) if measures in in_use]
        if (book := self._books.get(vessel.pk)) is not None:
            said.append(f"book {figures.lpa(book)} LPA")
        return ", ".join(said)

    @cached_property
    def _books(self) -> dict[int, int]:
        vessels = [vessel.pk for vessel in self._site.vessels()]
        books = Balance.objects.filter(account__vessel__in=vessels)
        return dict(books.values_list("account__vessel_id", "balance_ul"))
