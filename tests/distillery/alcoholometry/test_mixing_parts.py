"""Reduction, blending, topping up, and the question backwards."""

from itertools import permutations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from published_tables import figures, rows

from distillery.alcoholometry.errors import CannotReach, NegativeQuantity, OutOfRange
from distillery.alcoholometry.mixing import (
    Part,
    addition_to_reach,
    blend,
    parts_for,
    reduce_in_two_stages,
    reduce_to_capacity,
    reduce_to_strength,
    reduce_to_volume,
    reduce_with_water,
)
from distillery.alcoholometry.strength import air_density20_of_percent
from distillery.alcoholometry.volume import litres_at_celsius

parts = st.builds(Part, st.floats(0.1, 5000), st.floats(0, 100))


def test_reduction_to_the_last_digit():
    """Worked with the formula; guards against slips of coding."""
    for litres, percent, target, kilograms, water, final, contraction in figures("computed_reduction"):
        found = reduce_to_strength(Part(litres, percent), target_percent=target)
        assert found.water_kilograms == pytest.approx(kilograms, abs=6e-4)
        assert found.water_litres20 == pytest.approx(water, abs=6e-4)
        assert found.litres20 == pytest.approx(final, abs=6e-4)
        assert found.contraction_litres20 == pytest.approx(contraction, abs=6e-4)


@pytest.mark.parametrize(
    ("litres", "percent", "target", "checks"),
    [
        (300, 94.5, 40.0, {"P072": "water_kilograms"}),
        (1000, 71.2, 63.5, {"P073": "litres20", "P074": "water_kilograms", "P075": "contraction_litres20"}),
    ],
)
def test_worked_reductions(litres, percent, target, checks):
    found = reduce_to_strength(Part(litres, percent), target_percent=target)
    for row in rows("process_checks"):
        if row["id"] in checks:
            assert getattr(found, checks[row["id"]]) == pytest.approx(
                float(row["expected"]), abs=float(row["tolerance"])
            )


def test_proportion_of_volumes_is_the_wrong_answer():
    """Worked with the formula: 63.5 to 40 % wants 604.96 L for 1000 L, not 587.5."""
    found = reduce_to_strength(Part(1000, 63.5), target_percent=40)
    assert found.water_litres20 == pytest.approx(604.96, abs=0.005)
    assert found.water_litres20 - 1000 * (63.5 / 40 - 1) == pytest.approx(17.46, abs=0.005)


def test_blend_to_the_last_digit():
    """Worked with the formula: 200 L of 63.5, 180 L of 58.2 and 50 L of 40."""
    *given_parts, last = rows("computed_blend")
    made = [Part(float(row["litres_20C"]), float(row["strength_pct_vol_20C"])) for row in given_parts]
    for part, row in zip(made, given_parts, strict=True):
        assert part.lpa == pytest.approx(float(row["litres_pure_alcohol"]), abs=6e-5)
        assert part.kilograms == pytest.approx(float(row["mass_kg_true"]), abs=6e-5)
    found = blend(made)
    assert found.litres20 == pytest.approx(float(last["litres_20C"]), abs=6e-4)
    assert found.percent20 == pytest.approx(float(last["strength_pct_vol_20C"]), abs=6e-5)
    assert found.lpa == pytest.approx(float(last["litres_pure_alcohol"]), abs=6e-5)
    assert found.kilograms == pytest.approx(float(last["mass_kg_true"]), abs=6e-5)
    assert found.contraction_litres20 == pytest.approx(0.30, abs=0.005)


@given(st.lists(parts, min_size=1, max_size=4))
def test_blend_conserves_and_knows_no_order(poured):
    found = blend(poured)
    assert found.lpa == pytest.approx(sum(part.lpa for part in poured), rel=1e-12)
    assert found.kilograms == pytest.approx(sum(part.kilograms for part in poured), rel=1e-12)
    mixed = Part(found.litres20, found.percent20)
    assert mixed.lpa == pytest.approx(found.lpa, rel=1e-9, abs=1e-12)
    assert mixed.kilograms == pytest.approx(found.kilograms, rel=1e-9)
    assert {blend(order) for order in permutations(poured)} == {found}


@given(st.floats(1, 5000), st.floats(1, 100), st.floats(0.05, 1))
def test_three_targets_of_a_reduction_agree(litres, percent, share):
    start, target = Part(litres, percent), share * percent
    by_strength = reduce_to_strength(start, target_percent=target)
    # The alcohol stays, so the final bulk is the proportion of strengths exactly.
    assert by_strength.litres20 == pytest.approx(litres * percent / target, rel=1e-9)
    by_volume = reduce_to_volume(start, final_litres20=by_strength.litres20 * (1 + 1e-12))
    assert by_volume.percent20 == pytest.approx(target, rel=1e-9)
    assert by_volume.water_kilograms == pytest.approx(by_strength.water_kilograms, rel=1e-6, abs=1e-6 * litres)
    by_water = reduce_with_water(start, water_kilograms=by_strength.water_kilograms)
    assert by_water.percent20 == pytest.approx(target, rel=1e-9)


def test_reduction_to_what_the_vessel_holds():
    start = Part(1000, 71.2)
    found = reduce_to_capacity(start, capacity_litres=1500, celsius=12.0)
    filled = litres_at_celsius(litres20=found.litres20, celsius=12.0, percent20=found.percent20)
    assert filled == pytest.approx(1500, abs=1e-6)
    assert found.litres20 * found.percent20 / 100 == pytest.approx(712, abs=1e-6)
    with pytest.raises(CannotReach, match="holds 990 L"):
        reduce_to_capacity(start, capacity_litres=990, celsius=12.0)


def test_water_as_weighed_and_as_metered():
    """OIML D 28, conventional mass: weighed in air water shows about 0.105 % less than its mass."""
    found = reduce_to_strength(Part(1000, 63.5), target_percent=40)
    assert found.water_kilograms_in_air == pytest.approx(found.water_kilograms * (1 - 0.00105), rel=1e-5)
    in_air = air_density20_of_percent(0).kg_per_m3
    assert found.water_kilograms_in_air == pytest.approx(found.water_litres20 * in_air / 1000, rel=1e-9)
    assert found.water_litres(20.0) == pytest.approx(found.water_litres20, rel=1e-12)
    assert found.water_litres(8.0) < found.water_litres20


def test_two_stages_never_overshoot_and_the_trim_arrives():
    start = Part(1200, 68.9)
    plan = reduce_in_two_stages(start, target_percent=63.5, first_share=0.95)
    assert plan.first.percent20 > 63.5
    assert plan.first.water_kilograms + plan.left_kilograms == pytest.approx(plan.whole.water_kilograms)
    trim = reduce_to_strength(plan.expected, target_percent=63.5)
    assert trim.water_kilograms == pytest.approx(plan.left_kilograms, rel=1e-7)
    assert trim.litres20 == pytest.approx(plan.whole.litres20, rel=1e-9)
    for share in (0.0, 1.0):
        with pytest.raises(OutOfRange):
            reduce_in_two_stages(start, target_percent=63.5, first_share=share)


@given(st.floats(1, 5000), st.floats(0, 100), st.floats(0, 100), st.floats(0.05, 0.95))
def test_addition_reaches_its_target(litres, percent, added, share):
    assume(abs(percent - added) > 0.1)
    target = percent + share * (added - percent)
    found = addition_to_reach(Part(litres, percent), added_percent=added, target_percent=target)
    assert blend((Part(litres, percent), found)).percent20 == pytest.approx(target, rel=1e-8)


@given(st.floats(50, 97), st.floats(0, 40), st.floats(0, 1), st.floats(1, 5000))
def test_parts_make_the_target(strong, weak, share, litres):
    target = Part(litres, min(strong, weak + share * (strong - weak)))
    found = blend(parts_for(strong_percent=strong, weak_percent=weak, target=target))
    assert found.litres20 == pytest.approx(litres, rel=1e-9)
    assert found.percent20 == pytest.approx(target.percent20, rel=1e-9, abs=1e-9)


def test_what_cannot_be_reached_is_refused():
    start = Part(1000, 40)
    for target in (40.1, 0.0):
        with pytest.raises(CannotReach):
            reduce_to_strength(start, target_percent=target)
    with pytest.raises(CannotReach):
        reduce_to_volume(start, final_litres20=999)
    for added, target in ((30, 45), (60, 35), (60, 60.5)):
        with pytest.raises(CannotReach, match="between the two"):
            addition_to_reach(start, added_percent=added, target_percent=target)
    with pytest.raises(CannotReach):
        parts_for(strong_percent=60, weak_percent=50, target=Part(10, 40))
    with pytest.raises(CannotReach):
        blend(())
    with pytest.raises(OutOfRange):
        Part(10, 101)
    with pytest.raises(NegativeQuantity):
        Part(-1, 40)
    assert addition_to_reach(start, added_percent=0, target_percent=40).litres20 == 0
