"""The plain plant, and a hand that writes on it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from batches.models import Record
from batches.records import recording
from distillery.people.models import Person

from . import tiny_plant


@pytest.fixture
def plain_plant(db: None) -> None:
    tiny_plant.build()


@pytest.fixture
def write(plain_plant: None, staff: Person) -> Callable[..., Record]:
    """Saves a record in the name of someone on shift: write('transfer', at=..., ...)."""

    def save(kind: str, number: str | None = None, rows: Any = (), /, **values: str) -> Record:
        return recording.save(kind, number, values, rows, person=staff, sure=True)

    return save


@pytest.fixture
def opened(write: Callable[..., Record]) -> Callable[..., Record]:
    """Gauges a vessel into the books before all else: opened('VA', '1000', '60')."""

    def save(vessel: str, dip: str, percent: str) -> Record:
        return write("opening_stock", vessel=vessel, at="2027-03-01T06:00", **tiny_plant.gauge("gauge", dip, percent))

    return save
