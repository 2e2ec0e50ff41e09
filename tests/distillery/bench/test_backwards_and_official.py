"""Questions asked backwards, and the official roundings of the United States where a figure is shown for them."""

from __future__ import annotations

import pytest

from tests.distillery.bench.bench_plant import expanded, facts, make_plant, table, value

pytestmark = pytest.mark.django_db

ADD = {"aim": "add", "percent_1": "63.5", "litres_1": "1000", "percent_2": "0", "target_percent": "40"}
MAKE = {"aim": "make", "percent_1": "63.5", "percent_2": "0", "target_percent": "40", "final_litres20": "1587.5"}


@pytest.fixture(autouse=True)
def _plant() -> None:
    make_plant()


@pytest.mark.parametrize("row", table("computed_reduction.csv"))
def test_water_to_add_is_that_of_a_reduction(stranger, row):
    """computed_reduction.csv (OIML R 22:1975): water in kg and litres, and the volume made."""
    litres, start, target, water_kg, water_litres, final, contraction = row
    shown = facts(stranger.get("/bench/add/", ADD | {"litres_1": litres, "percent_1": start, "target_percent": target}))
    assert value(shown["Of the second, true mass"]) == pytest.approx(float(water_kg), abs=0.0057)
    assert value(shown["Of the second, at 20 °C"]) == pytest.approx(float(water_litres), abs=0.0057)
    assert value(shown["Makes, at 20 °C"]) == pytest.approx(float(final), abs=0.0057)
    assert value(shown["Contraction, not a loss"]) == pytest.approx(float(contraction), abs=0.0057)


def test_how_much_of_each_makes_a_volume(stranger):
    """The same reduction the other way round: 1587.5 L at 40 % is 1000 L at 63.5 % and 604.96 L of water."""
    shown = facts(stranger.get("/bench/add/", MAKE))
    assert value(shown["Of the first, at 20 °C"]) == pytest.approx(1000, abs=0.006)
    assert value(shown["Of the second, at 20 °C"]) == pytest.approx(604.96, abs=0.006)
    swapped = facts(stranger.get("/bench/add/", MAKE | {"percent_1": "0", "percent_2": "63.5"}))
    assert swapped["Of the first, at 20 °C"] == shown["Of the second, at 20 °C"]


def test_strong_spirit_raises_a_weak_one_and_leads_to_the_blend(stranger):
    page = stranger.get("/bench/add/", ADD | {"percent_1": "40", "percent_2": "63.5", "target_percent": "46"})
    shown = facts(page)
    added = value(shown["Of the second, at 20 °C"])
    blended = facts(
        stranger.get(
            "/bench/blend/", {"litres_1": "1000", "percent_1": "40", "litres_2": str(added), "percent_2": "63.5"}
        )
    )
    assert value(blended["Strength at 20 °C"]) == 46.0
    assert expanded(shown["Of the second, at 20 °C"]) > 0
    assert "/bench/blend/?litres_1=1000.00" in page.content.decode()


@pytest.mark.parametrize(
    ("asked", "box", "says"),
    [
        (ADD | {"target_percent": "70"}, "target_percent", "must lie between"),
        (MAKE | {"target_percent": "70"}, "target_percent", "must lie between"),
        (ADD | {"litres_1": ""}, "litres_1", "blank or nothing"),
        (MAKE | {"final_litres20": "0"}, "final_litres20", "blank or nothing"),
        (ADD | {"percent_2": "101"}, "percent_2", "outside 0 to 100"),
    ],
)
def test_what_cannot_be_reached_is_said_beside_its_box(stranger, asked, box, says):
    page = stranger.get("/bench/add/", asked).content.decode()
    assert f'href="#id_{box}"' in page
    assert says in page


def test_proof_is_shown_to_the_tenth_by_the_rule_and_unrounded_beside_it(stranger):
    """27 CFR 30.23: proof to the nearest tenth; 40.00 % vol at 20 °C is 39.93 % at 60 °F, 79.86 proof (OIML R 22:1975,
    computed outside the program), hence 79.9; 27 CFR 30.64: gallons to the tenth."""
    page = stranger.get("/bench/convert/", {"value": "40.00", "scale": "percent_vol", "litres20": "1000"})
    shown = facts(page)
    assert value(shown["US proof at 60 °F"]) == pytest.approx(79.86, abs=0.006)
    assert value(shown["US proof, to the tenth"]) == 79.9
    assert value(shown["Proof gallons, to the tenth"]) == round(value(shown["Proof gallons"]), 1)
    assert "27 CFR 30.23" in page.content.decode()
