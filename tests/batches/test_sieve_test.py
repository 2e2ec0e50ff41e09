"""Sieve test of the grist: 20 / 70 / 10 within 2, 3 and 2 points, together 100 within 0.5 (common practice, no source;
process reference, section B)."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest

from batches.models import Record, Version

pytestmark = pytest.mark.django_db
Write = Callable[..., Record]


def noted(write: Write, **sieve: str) -> list[str]:
    """What is noted of the sieve test on a mash with these parts."""
    write(
        "intake",
        "M001",
        kind="malt",
        received_at="2027-03-01T06:00",
        kilograms="9000",
        silo="A",
        moisture_percent="4.5",
        nitrogen_percent="1.5",
        predicted_spirit_yield_lpa_per_tonne="410",
    )
    record = write("mash", "MA0001", started_at="2027-03-01T08:00", malt_lot="M001", grist_kg="500", **sieve)
    return [note["sentence"] for note in json.loads(Version.objects.filter(record=record).latest("pk").notes)]


@pytest.mark.parametrize(
    ("husk", "grits", "flour", "said"),
    [
        ("20", "70", "10", []),
        ("22", "67", "11", []),
        ("18", "73", "9", []),
        ("24", "67", "9", ["Husk is 24"]),
        ("23", "66", "11", ["Husk is 23", "Grits is 66"]),
        ("20", "70", "10.5", []),
        ("20", "70", "10.6", ["Husk, grits and flour come to 100.6 %"]),
        ("18", "67", "12", ["Husk, grits and flour come to 97 %"]),
        ("18", "68", "14", ["Flour is 14; unlikely", "Flour is 14 %; above 13 % the mash may set"]),
        ("22", "72", "6", ["Flour is 6; unlikely", "Flour is 6 %; below 7 % the extract is low"]),
    ],
)
def test_ranges_and_sum(write: Write, husk: str, grits: str, flour: str, said: list[str]) -> None:
    found = noted(write, husk_percent=husk, grits_percent=grits, flour_percent=flour)
    assert [any(one.startswith(start) for one in found) for start in said] == [True] * len(said), found
    assert len(found) == len(said), found


def test_two_parts_that_are_more_than_the_whole(write: Write) -> None:
    found = noted(write, husk_percent="40", grits_percent="70")
    assert any("comes to 110 %, more than the whole" in one for one in found)


def test_one_part_alone_says_nothing_of_the_whole(write: Write) -> None:
    assert noted(write, husk_percent="20") == []
