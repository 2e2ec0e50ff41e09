"""Instruments as a month's table of the plant brings them: read and checked there, entered here."""

from __future__ import annotations

from collections.abc import Iterable

from distillery.plant.models import Instrument
from distillery.seals.writing import signed


@signed("plant")
def add_instruments(instruments: Iterable[Instrument]) -> int:
    """Instruments new on the site, none of whose codes is there yet; gives how many."""
    return len(Instrument.objects.bulk_create(instruments))
