"""What is counted of books that were loaded, and the rows that a load refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from batches.loading.load_folder import BadRows, load_folder
from batches.models import Link, Reading, Record, Version
from distillery.people.models import Person
from distillery.plant.models import CalibrationPoint, Cask, Instrument, Vessel
from ledger.models import Leg, Movement


def counts() -> dict[str, int]:
    models: tuple[Any, ...] = (
        Vessel,
        Cask,
        CalibrationPoint,
        Instrument,
        Record,
        Version,
        Reading,
        Link,
        Movement,
        Leg,
        Person,
    )
    return {model.__name__: model.objects.count() for model in models}


def bad_rows(folder: Path) -> list[tuple[str, int, str, str]]:
    """What is wrong with a folder; that nothing was changed by trying is checked each time."""
    before = counts()
    with pytest.raises(BadRows) as refused:
        load_folder(folder)
    assert counts() == before
    return [(row.file, row.row, row.column, row.reason) for row in refused.value.bad]


def net(number: str, code: str) -> float:
    legs = Leg.objects.filter(movement__record_number=number, account__code=code)
    return sum(legs.values_list("pure_ul", flat=True)) / 1e6
