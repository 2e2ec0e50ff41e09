"""Sums of the fermentation against the check values of the process (sources stand in their rows)."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.gravity import hmrc_gravity_table, wash_percent
from distillery.alcoholometry.wort import apparent_attenuation_percent, original_gravity_with_addition
from distillery.process import fermenting
from distillery.process.fermenting import Exposure, YeastForm
from tests.distillery.process.process_checks import Check, check

EH40 = {"limit_8_hours_ppm": 5_000.0, "limit_15_minutes_ppm": 15_000.0}


def _gravity(row: Check, name: str) -> float:
    return row.given(name) / 1000


@pytest.mark.parametrize("number", ["P021", "P022", "P023"])
def test_wash_strength_by_the_table_of_factors(number: str) -> None:
    row = check(number)  # HMRC Notice 226 section 30.3
    found = wash_percent(
        original_gravity=_gravity(row, "og"), present_gravity=_gravity(row, "fg"), table=hmrc_gravity_table()
    )
    assert row.met_by(found)


@pytest.mark.parametrize("number", ["P024", "P025"])
def test_factors_at_the_edge_of_a_band(number: str) -> None:
    row = check(number)
    assert row.met_by(float(hmrc_gravity_table().factor(Decimal(row.inputs["attenuation"]))))


def test_apparent_attenuation_passes_a_hundred() -> None:
    row = check("P026")
    assert row.met_by(
        apparent_attenuation_percent(original_gravity=_gravity(row, "og"), present_gravity=_gravity(row, "fg"))
    )


def test_addition_for_work_stands_beside_what_was_measured() -> None:
    row = check("P027")  # HMRC SPIR4080
    corrected = original_gravity_with_addition(
        measured_gravity=_gravity(row, "measured_og"), addition_for_work=_gravity(row, "addition_for_work")
    )
    assert row.met_by(1000 * corrected)


def test_strength_that_the_act_of_1880_presumed() -> None:
    row = check("P029")  # Spirits Act 1880 s.46(2)
    assert row.met_by(
        fermenting.presumed_percent_1880(degrees_lost=row.given("degrees"), proof_percent=row.given("proof_abv"))
    )


def test_yeast_rate() -> None:
    row = check("P030")
    found = fermenting.pitched(
        yeast_kg=row.given("yeast_kg"), form=YeastForm.DRIED, wash_litres=row.given("wash_l"), malt_kg=5_000
    )
    assert row.met_by(found.kg_per_hectolitre)
    assert found.grams_per_litre == pytest.approx(check("P031").given("yeast_g_per_l"), abs=1e-4)
    assert check("P031").met_by(found.cells_per_ml / 1e7)
    assert found.percent_of_malt == pytest.approx(0.8)


def test_dry_matter_of_pressed_yeast() -> None:
    row = check("P032")  # dry matter: Whisky Magazine, Yeast use
    found = fermenting.pitched(
        yeast_kg=row.given("yeast_kg"), form=YeastForm.PRESSED, wash_litres=24_000, malt_kg=row.given("malt_kg")
    )
    assert found.dry_percent_of_malt is not None
    assert row.met_by(found.dry_percent_of_malt)


def test_the_same_weight_says_nothing_without_its_form() -> None:
    cells = {form: fermenting.pitched(yeast_kg=40, form=form, wash_litres=24_000).cells_per_ml for form in YeastForm}
    assert cells[YeastForm.DRIED] == pytest.approx(2 * cells[YeastForm.PRESSED])
    assert cells[YeastForm.CREAM] == 0, "no count of cream yeast is known, and none is made up"


def test_carbon_dioxide_for_each_litre_of_pure_alcohol() -> None:
    assert check("P033").met_by(fermenting.carbon_dioxide_kg(1))
    assert check("P034").met_by(1000 * fermenting.carbon_dioxide_cubic_metres(1))
    row = check("P035")
    assert row.met_by(fermenting.carbon_dioxide_kg(row.given("wash_lpa")))
    assert fermenting.carbon_dioxide_cubic_metres(row.given("wash_lpa")) == pytest.approx(865, abs=1)


def test_fresh_air_that_no_fan_will_bring() -> None:
    row = check("P036")  # stoichiometry; limit EH40/2005
    peak = row.given("peak_fraction_per_h") * fermenting.carbon_dioxide_cubic_metres(row.given("wash_lpa"))
    assert row.met_by(
        fermenting.fresh_air_cubic_metres_per_hour(
            carbon_dioxide_m3_per_hour=peak, limit_share=row.given("limit"), outside_share=row.given("ambient")
        )
    )


def test_a_shift_s_average_over_the_limit() -> None:
    row = check("P037")
    said = fermenting.exposure(ppm_8_hours=row.given("ppm_8h_average"), **EH40)
    assert said is Exposure.OVER_LONG
    assert row.expected.startswith("over 8 h limit")


def test_a_short_reading_between_the_two_limits() -> None:
    row = check("P038")
    said = fermenting.exposure(ppm_15_minutes=row.given("ppm_15min"), **EH40)
    assert said is Exposure.OVER_LONG_LEVEL
    assert row.expected.startswith("over 8 h level, under 15 min limit")


@pytest.mark.parametrize(
    ("long", "short", "said"),
    [
        (5_000, None, Exposure.UNDER_BOTH),
        (None, 15_000, Exposure.OVER_LONG_LEVEL),
        (None, 15_001, Exposure.OVER_SHORT),
        (5_001, 16_000, Exposure.OVER_SHORT),
        (400, 5_000, Exposure.UNDER_BOTH),
    ],
)
def test_readings_at_the_edges_of_the_limits(long: float | None, short: float | None, said: Exposure) -> None:
    assert fermenting.exposure(ppm_8_hours=long, ppm_15_minutes=short, **EH40) is said


def test_heat_and_what_it_would_do_if_it_stayed() -> None:
    assert check("P039").met_by(fermenting.heat_kilojoules(1, kilojoules_per_mole_hexose=99))
    row = check("P040")
    assert row.met_by(
        fermenting.adiabatic_rise_celsius(
            row.given("abv"),
            kilojoules_per_mole_hexose=row.given("kj_per_mol_hexose"),
            heat_capacity=row.given("heat_capacity"),
        )
    )


def test_washbacks_that_a_mash_interval_takes() -> None:
    row = check("P041")
    needed = fermenting.washbacks_needed(
        ferment_hours=row.given("ferment_h"),
        turnround_hours=row.given("turnround_h"),
        mash_interval_hours=row.given("mash_interval_h"),
    )
    assert row.met_by(needed)
    assert fermenting.washbacks_needed(ferment_hours=84, turnround_hours=0.3, mash_interval_hours=12.0429) == 7


@given(
    original=st.floats(40, 80),
    final=st.floats(-8, 5),
    steep=st.floats(0.02, 0.8),
    middle=st.floats(5, 40),
    hour=st.floats(0, 200),
)
def test_the_curve_falls_from_the_original_to_the_final_gravity(
    original: float, final: float, steep: float, middle: float, hour: float
) -> None:
    def at(when: float) -> float:
        return fermenting.gravity_at_hour(
            when, original_degrees=original, final_degrees=final, steepness_per_hour=steep, middle_hour=middle
        )

    assert final <= at(hour + 1) <= at(hour) <= original
    assert at(middle) == pytest.approx((original + final) / 2)
    assert at(1e9) == pytest.approx(final)


@pytest.mark.parametrize(
    ("readings", "since"),
    [
        ([(40, 2.0), (46, -1.6), (52, -2.0)], 52),
        ([(40, 2.0), (46, -1.6), (51, -2.0)], None),  # five hours apart
        ([(46, -1.5), (52, -2.0), (58, -2.0), (64, -2.1)], 52),
        ([(46, -1.4), (52, -2.0)], None),  # six tenths apart
        ([(40, -1.0), (46, -1.0), (52, -3.0)], None),  # stood, then fell on
        ([(52, -2.0)], None),
        ([], None),
    ],
)
def test_two_steady_readings_end_a_fermentation(readings: list[tuple[float, float]], since: float | None) -> None:
    assert fermenting.steady_since(readings, within_degrees=0.5, hours_apart=6) == since


@pytest.mark.parametrize(
    "sum_of",
    [
        lambda: fermenting.pitched(yeast_kg=40, form=YeastForm.DRIED, wash_litres=0),
        lambda: fermenting.pitched(yeast_kg=-1, form=YeastForm.DRIED, wash_litres=24_000),
        lambda: fermenting.carbon_dioxide_kg(-1),
        lambda: fermenting.fresh_air_cubic_metres_per_hour(carbon_dioxide_m3_per_hour=1, limit_share=0.0004),
        lambda: fermenting.exposure(**EH40),
        lambda: fermenting.adiabatic_rise_celsius(101),
        lambda: fermenting.washbacks_needed(ferment_hours=84, turnround_hours=6, mash_interval_hours=0),
        lambda: fermenting.gravity_at_hour(
            1, original_degrees=0, final_degrees=60, steepness_per_hour=1, middle_hour=1
        ),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(sum_of: object) -> None:
    with pytest.raises(AlcoholometryError) as refused:
        sum_of()  # type: ignore[operator]
    assert str(refused.value).endswith((".", ")."))
