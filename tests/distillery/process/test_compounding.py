"""Gin in figures against the check values of the process (sources stand in their rows), and what is refused."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.mixing import Part, reduce_to_strength
from distillery.process import compounding
from tests.distillery.process.process_checks import check


def test_botanicals_of_a_charge() -> None:
    row = check("P065")
    lpa = compounding.charge_lpa(litres=row.given("charge_l"), percent=row.given("charge_abv"))
    assert row.met_by(compounding.botanical_kilograms(grams_per_lpa=row.given("g_per_lpa"), lpa=lpa))


def test_botanicals_of_a_basket() -> None:
    row = check("P066")
    assert row.met_by(
        compounding.kilograms_per_basket(kilograms=row.given("total_kg"), baskets=int(row.given("baskets")))
    )


def test_load_at_still_strength() -> None:
    row = check("P067")  # theginisin.com: 20 to 35 g/L
    load = compounding.grams_a_litre(kilograms=row.given("total_g") / 1000, litres=row.given("charge_l"))
    assert row.met_by(load)
    assert 20 <= load <= 35


def test_a_basket_that_is_light_is_named() -> None:
    row = check("P068")
    baskets = compounding.baskets_beside_their_mean([row.given(f"kg_{place}") for place in range(1, 5)])
    uneven = [one for one in baskets if not one.is_even]
    assert [f"flag basket {one.place}: {one.percent_of_mean:.2f}% of mean" for one in uneven] == [row.expected]


def test_water_that_reduces_vodka() -> None:
    row = check("P072")  # computed, OIML R 22
    start = Part(litres20=row.given("litres"), percent20=row.given("abv_from"))
    assert row.met_by(reduce_to_strength(start, target_percent=row.given("abv_to")).water_kilograms)


def test_heads_beside_the_charge() -> None:
    # Worked by hand; heads of 0.5 to 2 % are common practice, no source.
    assert compounding.cut_share(litres=5, charge_litres=500) == pytest.approx(1.0)


def test_what_came_out_of_a_charge() -> None:
    # Worked by hand: 247 of 250.
    found = compounding.recovery_percent(charged_lpa=250, heads_lpa=2, hearts_lpa=225, tails_lpa=18, left_lpa=2)
    assert found == pytest.approx(98.8)


@given(st.lists(st.floats(0, 500), min_size=1, max_size=30).filter(lambda some: math.fsum(some) > 1e-3))
def test_shares_of_a_recipe_sum_to_a_hundred(weights: list[float]) -> None:
    assert compounding.shares_sum_to_whole(compounding.recipe_parts(weights))


@given(st.lists(st.floats(0.1, 500), min_size=1, max_size=12))
def test_baskets_differ_from_their_mean_by_nothing_together(weights: list[float]) -> None:
    found = compounding.baskets_beside_their_mean(weights)
    assert math.fsum(one.percent_of_mean for one in found) == pytest.approx(0, abs=1e-6)


@given(grams=st.floats(0, 500), litres=st.floats(0, 10_000), percent=st.floats(0, 100), baskets=st.integers(1, 24))
def test_baskets_hold_together_what_the_recipe_asks_for(
    grams: float, litres: float, percent: float, baskets: int
) -> None:
    lpa = compounding.charge_lpa(litres=litres, percent=percent)
    whole = compounding.botanical_kilograms(grams_per_lpa=grams, lpa=lpa)
    each = compounding.kilograms_per_basket(kilograms=whole, baskets=baskets)
    assert each * baskets == pytest.approx(grams * litres * percent / 100_000)


@pytest.mark.parametrize("shares", [[25, 25, 25, 24.8], [50, 50.2], []])
def test_shares_that_do_not_sum(shares: list[float]) -> None:
    assert not compounding.shares_sum_to_whole(shares)


def test_what_is_refused() -> None:
    for wrong in (
        lambda: compounding.charge_lpa(litres=-1, percent=50),
        lambda: compounding.charge_lpa(litres=1, percent=101),
        lambda: compounding.botanical_kilograms(grams_per_lpa=float("nan"), lpa=1),
        lambda: compounding.kilograms_per_basket(kilograms=1, baskets=0),
        lambda: compounding.grams_a_litre(kilograms=1, litres=0),
        lambda: compounding.baskets_beside_their_mean([]),
        lambda: compounding.baskets_beside_their_mean([0, 0]),
        lambda: compounding.recipe_parts([1, -1]),
        lambda: compounding.recovery_percent(charged_lpa=0, heads_lpa=0, hearts_lpa=0, tails_lpa=0, left_lpa=0),
    ):
        with pytest.raises(AlcoholometryError):
            wrong()
