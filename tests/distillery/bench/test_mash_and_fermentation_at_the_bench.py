"""Sums of mash and fermentation at the bench against the check values of the process (ids P012, P030 to P041)."""

from __future__ import annotations

import pytest

from tests.distillery.bench.bench_plant import facts, make_plant, value

pytestmark = pytest.mark.django_db
STRIKE = {"mash_celsius": "64", "grist_celsius": "15", "grist_kg": "5000", "water_litres": "20000"}
GAS = {"lpa": "2100", "peak_percent": "5"}


@pytest.fixture(autouse=True)
def _plant() -> None:
    make_plant()


def test_strike_water(stranger):
    """P012: Lewis and Young 2001; published 156 °F = 68.9 °C."""
    page = stranger.get("/bench/strike/", STRIKE)
    shown = facts(page)
    assert value(shown["First water at"]) == 68.9
    assert value(shown["Mixes to"]) == 64.0
    text = page.content.decode()
    assert "Hot water, steam and hot grist scald" in text
    assert "printed as 156 °F" in text


def test_strike_water_with_the_offset_of_the_site(stranger):
    shown = facts(stranger.get("/bench/strike/", {**STRIKE, "offset_celsius": "-1.4"}))
    assert value(shown["First water at"]) == 67.5


def test_yeast_rate(stranger):
    """P030, P031 and P032 (common practice, no source; dry matter Whisky Magazine, Yeast use)."""
    dried = facts(stranger.get("/bench/yeast/", {"yeast_kg": "40", "form": "dried", "wash_litres": "24000"}))
    assert value(dried["Cells, about"]) == 33
    pressed = facts(
        stranger.get("/bench/yeast/", {"yeast_kg": "40", "form": "pressed", "wash_litres": "24000", "malt_kg": "5000"})
    )
    assert value(pressed["Dry matter, of the malt"]) == 0.224


def test_carbon_dioxide_and_fresh_air(stranger):
    """P035 and P036; both limits stand with their source, and the caution above."""
    page = stranger.get("/bench/carbon-dioxide/", {**GAS, "ppm_15_minutes": "14000"})
    shown = facts(page)
    assert value(shown["Carbon dioxide"]) == 1583
    assert value(shown["As gas at 20 °C"]) == 865
    assert value(shown["Fresh air to hold 5,000 ppm"]) == pytest.approx(9406.9, abs=30)
    assert "under the 15 minute limit" in str(shown["The reading is"])
    text = page.content.decode()
    assert text.count("EH40/2005") >= 2
    assert "test the air" in text


def test_washbacks_needed(stranger):
    """P041."""
    shown = facts(
        stranger.get("/bench/washbacks/", {"ferment_hours": "84", "turnround_hours": "6", "mash_interval_hours": "12"})
    )
    assert value(shown["Washbacks needed"]) == 8
    assert value(shown["Room to spare"]) == 6.0


@pytest.mark.parametrize(
    ("tool", "given", "sentence"),
    [
        ("strike", {**STRIKE, "grist_kg": "0"}, "The grist weighs 0 kg"),
        ("strike", {**STRIKE, "mash_celsius": "10"}, "not between its grist and 100 °C"),
        ("yeast", {"yeast_kg": "40", "form": "dried", "wash_litres": "0"}, "The wash is 0 litres"),
        ("washbacks", {"ferment_hours": "84", "turnround_hours": "6", "mash_interval_hours": "0"}, "is 0 hours"),
        ("carbon-dioxide", {**GAS, "peak_percent": "101"}, "outside 0 to 100"),
    ],
)
def test_what_cannot_be_is_said_beside_its_box(stranger, tool, given, sentence):
    text = stranger.get(f"/bench/{tool}/", given).content.decode()
    assert sentence in text
    assert 'id="result"' not in text
