"""Quantities: the crossing to whole numbers, mixing and dividing without losing a microlitre."""

from fractions import Fraction
from itertools import permutations
from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published_tables import rows

from distillery.alcoholometry.contents import (
    content_of,
    litres_and_percent_of,
    mix,
    shares,
    take_alcohol,
    take_mass,
    water,
)
from distillery.alcoholometry.errors import CannotReach, NegativeQuantity, NoSuchMixture, NotANumber, OutOfRange
from distillery.alcoholometry.gauging.gauge import gauge_by_count, gauge_by_volume
from distillery.alcoholometry.mixing import Part, blend
from distillery.alcoholometry.quantity import NOTHING, Quantity, whole_grams, whole_microlitres


def spirit(litres: float, percent: float, u_litres: float = 0.0) -> Quantity:
    return gauge_by_volume(litres=litres, percent20=percent, u_litres=u_litres, u_percent=0.0)


contents = st.builds(spirit, st.floats(0.1, 20_000), st.floats(0, 97), st.floats(0, 10))


@given(st.floats(0, 1e6))
def test_whole_microlitres_is_the_nearest(litres):
    assert (
        abs(whole_microlitres(litres) - Fraction(litres) * 10**6) <= Fraction(1, 2) + Fraction(litres) * 10**6 / 2**50
    )


def test_halves_go_to_even():
    assert [whole_microlitres(n * 1e-6) for n in (0.5, 1.5, 2.5)] == [0, 2, 2]
    assert [whole_grams(n) for n in (0.0005, 0.0015, 0.0025)] == [0, 2, 2]
    assert whole_microlitres(1572.1704254) == 1_572_170_425
    assert whole_microlitres(-0.0000015, signed=True) == -2


def test_crossing_refuses_what_cannot_be():
    for bad in (nan, inf, -inf):
        with pytest.raises(NotANumber):
            whole_microlitres(bad)
        with pytest.raises(NotANumber):
            whole_grams(bad, signed=True)
    with pytest.raises(NegativeQuantity):
        whole_microlitres(-0.1)
    with pytest.raises(NegativeQuantity):
        whole_grams(-0.1)


def test_quantity_refuses_what_cannot_be():
    good = {"pure_ul": 1, "mass_g": 1, "litres20": 1.0, "percent20": 1.0, "uncertainty_ul": 1.0}
    assert Quantity(**good).lpa == 1e-6
    for name in good:
        with pytest.raises((NegativeQuantity, OutOfRange)):
            Quantity(**{**good, name: -1})
        with pytest.raises(NotANumber):
            Quantity(**{**good, name: nan})
    with pytest.raises(OutOfRange):
        Quantity(**{**good, "percent20": 100.1})
    assert NOTHING.lpa == 0


@given(st.lists(contents, min_size=1, max_size=4))
def test_mixing_conserves_exactly_and_knows_no_order(poured):
    mixed = mix(poured)
    assert mixed.pure_ul == sum(part.pure_ul for part in poured)
    assert mixed.mass_g == sum(part.mass_g for part in poured)
    assert {mix(order) for order in permutations(poured)} == {mixed}


@given(st.lists(st.tuples(st.floats(5, 20_000), st.floats(5, 97)), min_size=2, max_size=5))
def test_mixing_agrees_with_blending(poured):
    mixed = mix([spirit(*one) for one in poured])
    found = blend([Part(*one) for one in poured])
    # Whole grams are all that stands between the two.
    assert mixed.litres20 == pytest.approx(found.litres20, abs=0.005)
    assert mixed.percent20 == pytest.approx(found.percent20, abs=0.05 / min(litres for litres, _ in poured))


def test_nothing_adds_nothing():
    content = spirit(412.5, 63.2)
    assert mix((content, NOTHING)) == content
    assert mix(()) == NOTHING
    assert mix((NOTHING, NOTHING)) == NOTHING


def test_water_brings_mass_and_no_alcohol():
    mixed = mix((spirit(1000, 63.5), water(603.867)))
    assert mixed.pure_ul == 635_000_000
    assert mixed.percent20 == pytest.approx(40.0, abs=1e-4)
    assert water(603.867).litres20 == pytest.approx(604.956, abs=1e-3)


def test_uncertainty_of_a_mixture():
    parts = (spirit(1000, 50, u_litres=3), spirit(1000, 50, u_litres=4))
    assert mix(parts).uncertainty_ul == pytest.approx(2.5e6)
    assert mix(parts, uncertainty_ul=3.5e6).uncertainty_ul == 3.5e6


@given(contents, st.floats(0, 1))
def test_dividing_conserves_exactly(whole, share):
    for taken, rest in (
        take_mass(whole, mass_g=int(whole.mass_g * share)),
        take_alcohol(whole, pure_ul=int(whole.pure_ul * share)),
    ):
        assert taken.pure_ul + rest.pure_ul == whole.pure_ul
        assert taken.mass_g + rest.mass_g == whole.mass_g
        assert taken.litres20 + rest.litres20 == pytest.approx(whole.litres20, rel=1e-9)
        assert taken.pure_ul * whole.mass_g == pytest.approx(
            taken.mass_g * whole.pure_ul, abs=whole.pure_ul + whole.mass_g
        )


def test_more_than_there_is_cannot_be_taken():
    whole = spirit(10, 40)
    with pytest.raises(CannotReach):
        take_mass(whole, mass_g=whole.mass_g + 1)
    with pytest.raises(CannotReach):
        take_alcohol(whole, pure_ul=whole.pure_ul + 1)
    assert take_mass(whole, mass_g=whole.mass_g) == (whole, NOTHING)
    assert take_mass(NOTHING, mass_g=0) == (NOTHING, NOTHING)
    assert take_alcohol(water(2), pure_ul=0) == (NOTHING, water(2))


@given(st.integers(0, 10**12), st.lists(st.floats(0, 1e6), min_size=1, max_size=8).filter(lambda w: sum(w) > 1e-3))
def test_shares_add_up_to_the_whole(total, weights):
    parts = shares(total, weights)
    assert sum(parts) == total
    whole = sum(Fraction(repr(weight)) for weight in weights)
    for part, weight in zip(parts, weights, strict=True):
        assert abs(part - total * Fraction(repr(weight)) / whole) < 1 + Fraction(1, 10**6)


def test_shares_need_a_weight():
    with pytest.raises(OutOfRange):
        shares(10, (0.0, 0.0))


@given(st.floats(1, 20_000), st.floats(0.1, 97))
def test_alcohol_and_mass_give_bulk_and_strength_back(litres, percent):
    content = spirit(litres, percent)
    found = litres_and_percent_of(pure_ul=content.pure_ul, mass_g=content.mass_g)
    assert found is not None
    assert found[0] == pytest.approx(litres, abs=0.005)
    assert found[1] == pytest.approx(percent, abs=0.5 / litres)


def test_no_mixture_weighs_less_than_its_alcohol():
    assert litres_and_percent_of(pure_ul=1_000_000, mass_g=700) is None
    with pytest.raises(NoSuchMixture, match="wrong"):
        content_of(pure_ul=1_000_000, mass_g=700)
    # 789.24 g rounded down to whole grams is still neat alcohol.
    assert litres_and_percent_of(pure_ul=1_000_000, mass_g=789) == (1.0, 100.0)
    assert litres_and_percent_of(pure_ul=0, mass_g=0) == (0.0, 0.0)


def test_bottles_by_their_label():
    assert gauge_by_count(bottles=1, centilitres=70, label_percent=41.4).pure_ul == 289_800
    assert gauge_by_count(bottles=1200, centilitres=70, label_percent=41.4).pure_ul == 347_760_000
    assert gauge_by_count(bottles=3, centilitres=70, label_percent=41.4).litres20 == 2.1
    # Published: 12 bottles of 0.70 L at 40 % are 3.36 L of alcohol (HMRC HMEXSH5030).
    assert gauge_by_count(bottles=12, centilitres=70, label_percent=40).lpa == 3.36
    worked = {row["id"]: float(row["expected"]) for row in rows("process_checks") if row["id"] in ("P028", "P088")}
    assert gauge_by_count(bottles=6, centilitres=70, label_percent=46).lpa == worked["P088"]
    assert spirit(24_000, 8.55).lpa == worked["P028"]
    assert gauge_by_count(bottles=0, centilitres=70, label_percent=40) == NOTHING


@given(st.integers(0, 5000), st.integers(0, 5000), st.sampled_from((5, 20, 35, 50, 70, 100)), st.integers(10, 960))
def test_any_split_of_bottles_adds_up(some, more, centilitres, tenths):
    one, other, both = (
        gauge_by_count(bottles=n, centilitres=centilitres, label_percent=tenths / 10) for n in (some, more, some + more)
    )
    assert one.pure_ul + other.pure_ul == both.pure_ul == (some + more) * centilitres * tenths * 10
    assert one.mass_g + other.mass_g == both.mass_g


@pytest.mark.parametrize(
    ("bottles", "centilitres", "percent"), [(-1, 70, 40), (1.5, 70, 40), (1, -70, 40), (1, 70, 101), (1, nan, 40)]
)
def test_bottles_that_cannot_be_are_refused(bottles, centilitres, percent):
    with pytest.raises((NegativeQuantity, OutOfRange, NotANumber)):
        gauge_by_count(bottles=bottles, centilitres=centilitres, label_percent=percent)
