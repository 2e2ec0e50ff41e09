"""Sums of the mash against the check values of the process (sources stand in their rows), and what they refuse."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.wort import extract_percent_of_litre_degrees, litre_degrees_of_extract_percent
from distillery.process import mashing
from distillery.process.mashing import Reached, Running
from tests.distillery.process.process_checks import check

SITE = {"low_percent": 95.0, "very_low_percent": 93.0, "too_much_percent": 101.0}


def test_strike_water_of_a_published_mash() -> None:
    row = check("P012")  # Lewis and Young 2001; published 156 °F
    water = mashing.strike_water_celsius(
        mash_celsius=row.given("mash_c"),
        grist_celsius=row.given("grist_c"),
        litres_per_kg=row.given("litres_per_kg"),
        heat_of_grist=row.given("c"),
    )
    assert row.met_by(water)
    assert water == pytest.approx((156 - 32) / 1.8, abs=0.05)


def test_mixed_temperature_of_a_published_mash() -> None:
    row = check("P013")
    mixed = mashing.mixed_celsius(
        water_celsius=row.given("water_c"), grist_celsius=row.given("grist_c"), litres_per_kg=row.given("litres_per_kg")
    )
    assert abs(mixed - float(row.expected)) <= 0.05
    assert (147 - 32) / 1.8 - 0.05 <= mixed <= (148 - 32) / 1.8


def test_what_the_site_has_found_missing_is_added_to_the_water() -> None:
    plain = mashing.strike_water_celsius(mash_celsius=64, grist_celsius=15, litres_per_kg=4)
    offset = mashing.strike_water_celsius(mash_celsius=64, grist_celsius=15, litres_per_kg=4, site_offset_celsius=-1.2)
    assert offset == pytest.approx(plain - 1.2)


@given(
    mash=st.floats(50, 75),
    grist=st.floats(-10, 40),
    ratio=st.floats(2.5, 8),
)
def test_strike_water_mixes_to_the_temperature_that_was_asked_for(mash: float, grist: float, ratio: float) -> None:
    water = mashing.strike_water_celsius(mash_celsius=mash, grist_celsius=grist, litres_per_kg=ratio)
    assert water >= mash
    assert mashing.mixed_celsius(water_celsius=water, grist_celsius=grist, litres_per_kg=ratio) == pytest.approx(
        mash, abs=1e-9
    )


def test_extract_collected_in_litre_degrees_and_percent() -> None:
    row = check("P015")
    wort = Running(row.given("wort_l"), row.given("degrees"))
    extract = mashing.extract_litre_degrees_per_kg(worts=[wort], grist_kg=row.given("grist_kg"))
    assert row.met_by(extract)
    assert check("P016").met_by(extract_percent_of_litre_degrees(extract))
    assert check("P005").met_by(litre_degrees_of_extract_percent(check("P005").given("extract_pct")))


def test_extract_counts_weak_worts_carried_from_mash_to_mash() -> None:
    row = check("P019")
    assert row.met_by(
        mashing.extract_litre_degrees_per_kg(
            worts=[Running(row.given("wort_l"), row.given("degrees"))],
            grist_kg=row.given("grist_kg"),
            carried_out=[Running(row.given("out_l"), row.given("out_degrees"))],
            carried_in=[Running(row.given("in_l"), row.given("in_degrees"))],
        )
    )


def test_extract_efficiency_against_the_laboratory() -> None:
    row = check("P017")
    assert row.met_by(
        mashing.extract_efficiency_percent(
            litre_degrees_per_kg=row.given("plant_l_deg"), laboratory_extract_percent=row.given("lab_extract_pct")
        )
    )


def test_more_than_the_laboratory_found_is_never_good() -> None:
    row = check("P018")  # expected: flag: 102.6% impossible
    efficiency = mashing.extract_efficiency_percent(
        litre_degrees_per_kg=row.given("plant_l_deg"), laboratory_extract_percent=row.given("lab_extract_pct")
    )
    assert f"{efficiency:.1f}" in row.expected
    assert mashing.efficiency_reached(efficiency, **SITE) is Reached.TOO_MUCH


@pytest.mark.parametrize(
    ("percent", "said"),
    [
        (101.01, Reached.TOO_MUCH),
        (101.0, Reached.USUAL),
        (95.0, Reached.USUAL),
        (94.9, Reached.LOW),
        (93.0, Reached.LOW),
        (92.9, Reached.VERY_LOW),
    ],
)
def test_edges_of_the_site_s_thresholds(percent: float, said: Reached) -> None:
    assert mashing.efficiency_reached(percent, **SITE) is said


def test_draff_and_the_water_it_holds() -> None:
    row = check("P020")  # common practice, no source; computed
    mash = {
        "grist_kg": row.given("grist_kg"),
        "moisture_percent": row.given("moisture_pct"),
        "extract_percent": row.given("extract_pct"),
        "draff_moisture_percent": row.given("draff_moisture_pct"),
    }
    # The row rounds 4,522.7 of dry grist less 3,730 of extract at 22 % dry matter to whole fives.
    assert mashing.draff_kg(**mash) == pytest.approx((5000 * 0.955 - 5000 * 0.746) / 0.22, rel=1e-12)
    assert row.met_by(mashing.draff_kg(**mash))
    assert mashing.water_held_litres(**mash) == pytest.approx(3700, abs=10)


def test_water_is_found_again_in_worts_and_draff() -> None:
    # Worked by hand: 27,700 on, 24,000 off, 3,700 in the draff; then 1,000 of them gone down a drain.
    whole = mashing.water_gap_percent(water_litres=27_700, worts_litres=24_000, held_litres=3_700)
    leak = mashing.water_gap_percent(water_litres=27_700, worts_litres=23_000, held_litres=3_700)
    assert (whole, leak) == (pytest.approx(0.0), pytest.approx(100_000 / 27_700))


@pytest.mark.parametrize(
    "sum_of",
    [
        lambda: mashing.strike_water_celsius(mash_celsius=64, grist_celsius=15, litres_per_kg=0),
        lambda: mashing.strike_water_celsius(mash_celsius=10, grist_celsius=15, litres_per_kg=4),
        lambda: mashing.strike_water_celsius(mash_celsius=95, grist_celsius=0, litres_per_kg=1),
        lambda: mashing.mixed_celsius(water_celsius=120, grist_celsius=15, litres_per_kg=4),
        lambda: mashing.extract_litre_degrees_per_kg(worts=[Running(24_000, 1060)], grist_kg=5_000),
        lambda: mashing.extract_litre_degrees_per_kg(worts=[Running(-1, 60)], grist_kg=5_000),
        lambda: mashing.extract_litre_degrees_per_kg(worts=[], grist_kg=0),
        lambda: mashing.extract_efficiency_percent(litre_degrees_per_kg=288, laboratory_extract_percent=0),
        lambda: mashing.draff_kg(grist_kg=5_000, moisture_percent=4.5, extract_percent=99),
        lambda: mashing.draff_kg(grist_kg=5_000, moisture_percent=4.5, extract_percent=75, draff_moisture_percent=100),
        lambda: mashing.water_gap_percent(water_litres=0, worts_litres=1, held_litres=1),
        lambda: mashing.efficiency_reached(float("nan"), **SITE),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(sum_of: object) -> None:
    with pytest.raises(AlcoholometryError) as refused:
        sum_of()  # type: ignore[operator]
    assert str(refused.value).endswith((".", ")."))
