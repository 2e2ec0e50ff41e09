"""A load of malt: its weighbridge, certificate and yield, and what is noted of them. Figures worked by hand."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest

from batches.models import Record
from batches.sheets.typed.read_sheet import Unfit
from batches.tracing.trace import refer

Write = Callable[..., Record]
LOAD = {"received_at": "2027-03-02T06:00", "kilograms": "28020"}
EXTRACT = {
    "soluble_extract_percent": "77.0",
    "extract_basis": "as is",
    "extract_grind": "coarse",
    "fermentability_percent": "87",
    "certificate": "C-118",
}


def notes(record: Record) -> list[str]:
    return [note["sentence"] for note in json.loads(record.versions.latest("serial").notes)]


def test_a_load_as_it_came_has_nothing_to_look_at(write: Write) -> None:
    more = {
        "supplier": "Harrowmere Maltings",
        "supplier_lot": "HM-77",
        "gross_kilograms": "44000",
        "tare_kilograms": "15980",
        "cereal": "barley",
        "crop_year": "2026",
        "predicted_spirit_yield_lpa_per_tonne": "406",
    }
    record = write("intake", "M001", **LOAD, **EXTRACT, **more)
    assert notes(record) == []
    assert refer("HM-77").records == (record.pk,)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"gross_kilograms": "44000", "tare_kilograms": "16500"}, "full less empty is 27500 kg"),
        ({**EXTRACT, "certificate": ""}, "names no certificate"),
        ({"supplier": "Harrowmere Maltings"}, "supplier's lot is blank"),
        # 77.0 % × 87 % × 6.06 (maltsters' specification, at least 405): 405.96.
        (EXTRACT, "worked out from the analysis: 406.0 LPA/t"),
        ({**EXTRACT, "predicted_spirit_yield_lpa_per_tonne": "425"}, "gives 406.0"),
        ({**EXTRACT, "least_yield_lpa_per_tonne": "408"}, "below the 408 of the contract"),
        # 80.6 % on dry malt with 4.5 % of moisture is 76.97 % as is.
        (
            {**EXTRACT, "soluble_extract_percent": "80.6", "extract_basis": "dry", "moisture_percent": "4.5"},
            "analysis: 405.8 LPA/t",
        ),
        ({"moisture_percent": "5.3"}, "Moisture"),
    ],
)
def test_what_is_flagged(write: Write, given: dict[str, str], said: str) -> None:
    record = write("intake", "M001", **LOAD, **given)
    assert any(said in note for note in notes(record)), notes(record)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"soluble_extract_percent": "77.0", "extract_grind": "fine"}, "extract_basis"),
        ({"soluble_extract_percent": "77.0", "extract_basis": "dry"}, "extract_grind"),
        ({"gross_kilograms": "15980", "tare_kilograms": "44000"}, "tare_kilograms"),
    ],
)
def test_what_cannot_be_is_refused(write: Write, given: dict[str, str], field: str) -> None:
    with pytest.raises(Unfit) as unfit:
        write("intake", "M001", **LOAD, **given)
    assert [problem.field for problem in unfit.value.problems] == [field]
