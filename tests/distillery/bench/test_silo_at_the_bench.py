"""The blend of a silo at the bench against the check value of the process (id P008) and figures worked by hand."""

from __future__ import annotations

import pytest
from django.test import Client

from tests.distillery.bench.bench_plant import facts, make_plant, value

pytestmark = pytest.mark.django_db
# P008: 20,000 kg at 408 and 12,000 kg at 412.8 LPA a tonne are 409.8.
TWO = {"kilograms_1": "20000", "yield_1": "408", "kilograms_2": "12000", "yield_2": "412.8"}


@pytest.fixture(autouse=True)
def _plant() -> None:
    make_plant()


def test_two_lots_by_mass(stranger: Client) -> None:
    shown = facts(stranger.get("/bench/silo/", TWO))
    assert value(shown["Predicted spirit yield"]) == 409.8
    assert value(shown["Malt"]) == 32000
    assert "Moisture" not in shown


def test_moisture_and_what_a_grist_should_give(stranger: Client) -> None:
    """(20 × 4.0 + 12 × 4.8) / 32 = 4.3 %; 5 t at 409.8 are 2,049 LPA."""
    shown = facts(stranger.get("/bench/silo/", {**TWO, "moisture_1": "4", "moisture_2": "4.8", "grist_kg": "5000"}))
    assert value(shown["Moisture"]) == 4.3
    assert value(shown["The grist should give"]) == 2049


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"yield_2": ""}, "Lot 2 has no predicted spirit yield"),
        ({"kilograms_2": ""}, "Lot 2 has no weight"),
        ({"kilograms_1": "0", "kilograms_2": "0"}, "No lot weighs anything"),
    ],
)
def test_what_is_missing_is_said(stranger: Client, more: dict[str, str], said: str) -> None:
    assert said in stranger.get("/bench/silo/", {**TWO, **more}).content.decode()
