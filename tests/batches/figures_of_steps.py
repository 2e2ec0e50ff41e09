"""The figures that a record's posting hands to the comparison, and what is typed for them. All are invented."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from batches.models import Record
from ledger.models import Figure

from .tiny_plant import gauge

Write = Callable[..., Record]


MASH = {
    "started_at": "2027-03-01T06:00",
    "ended_at": "2027-03-01T11:00",
    "malt_lot": "M001",
    "grist_kg": "200",
    "wort_litres": "1000",
    "wort_gravity": "1.0605",
    "wort_celsius": "18",
    "washback": "WB",
}


FERMENTATION = {
    "mash": "MA0001",
    "washback": "WB",
    "pitched_at": "2027-03-01T11:00",
    "original_gravity": "1.0600",
}


DECLARED = {
    "ended_at": "2027-03-04T11:00",
    "final_gravity": "0.9980",
    "final_dip_mm": "1000",
    "final_celsius": "20",
}


TRANSFER = {
    "at": "2027-03-06T08:00",
    "from_vessel": "SP",
    "to_vessel": "VA",
    **gauge("from_before", "300", "70.0"),
    **gauge("to_before", "0"),
    **gauge("from_after", "0"),
    **gauge("to_after", "300", "69.8"),
}


def figures_of(number: str) -> dict[str, Figure]:
    standing = Figure.objects.filter(movement__record_number=number, movement__corrections__isnull=True)
    return {one.name: one for one in standing}


def values_of(number: str) -> dict[str, float]:
    return {name: one.value_millionths / 1e6 for name, one in figures_of(number).items()}


@pytest.fixture
def malt(write: Write) -> None:
    write(
        "intake", "M001", received_at="2027-03-01T06:00", kilograms="10000", predicted_spirit_yield_lpa_per_tonne="410"
    )
    write("mash", "MA0001", **MASH)


@pytest.fixture
def pitched(write: Write, malt: None) -> Record:
    return write("fermentation", "FE0001", **FERMENTATION)


@pytest.fixture
def filled(write: Write, opened: Callable[..., Record]) -> Record:
    opened("VA", "1000", "63.5")
    line = {"cask_kind": "barrel", "tare_kg": "50", "celsius": "20", "hydrometer_percent": "63.6"}
    return write(
        "cask_fill",
        "CF0001",
        [{"cask": "C1", "gross_kg": "230"} | line, {"cask": "C2", "gross_kg": "228"} | line],
        at="2027-03-06T10:00",
        vat="VA",
        **gauge("vat_before", "1000", "63.5"),
        **gauge("vat_after", "600", "63.5"),
    )
