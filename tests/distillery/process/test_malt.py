"""Sums of malt against the check values of the process (sources stand in their rows), and what they refuse."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.wort import (
    extract_as_is_percent,
    fermentable_extract_percent,
    litre_degrees_of_extract_percent,
    predicted_spirit_yield_lpa_per_tonne,
    real_fermentability_percent,
)
from distillery.process import malt
from distillery.process.malt import Flag, Portion
from tests.distillery.process.process_checks import check


def test_extract_and_yield_of_a_published_specification() -> None:
    extract = check("P001")  # a maltsters' specification prints 67.0
    given_ = {
        "soluble_extract_percent": extract.given("soluble_extract_pct"),
        "fermentability_percent": extract.given("fermentability_pct"),
    }
    assert extract.met_by(fermentable_extract_percent(**given_))
    for key in ("P002", "P003"):  # J. Inst. Brew. 102 (1996) 433-437
        row = check(key)
        assert row.met_by(predicted_spirit_yield_lpa_per_tonne(**given_, factor=row.given("factor")))


def test_an_extract_on_dry_malt_is_less_as_is() -> None:
    row = check("P004")
    as_is = extract_as_is_percent(
        dry_extract_percent=row.given("dry_extract_pct"), moisture_percent=row.given("moisture_pct")
    )
    assert row.met_by(as_is)


def test_litre_degrees_of_an_extract() -> None:
    row = check("P005")  # 386 L°/kg of sucrose, from memory, checked from a Plato table
    assert row.met_by(
        litre_degrees_of_extract_percent(row.given("extract_pct"), litre_degrees_per_percent=row.given("l_deg_per_pct"))
    )


def test_real_fermentability_from_gravities() -> None:
    row = check("P006")  # J. Inst. Brew. 102 (1996) 433-437; form of the equation from memory
    found = real_fermentability_percent(
        original_gravity=row.given("og") / 1000,
        present_gravity=row.given("fg") / 1000,
        attenuation_factor=row.given("attenuation_factor"),
    )
    assert row.met_by(found)


def test_expected_spirit_of_a_mash() -> None:
    row = check("P007")
    assert row.met_by(malt.expected_lpa(grist_kilograms=row.given("grist_kg"), lpa_per_tonne=row.given("psy")))


def test_blend_of_a_silo() -> None:
    row = check("P008")
    portions = [Portion(row.given(f"kg_{place}"), row.given(f"psy_{place}")) for place in (1, 2)]
    assert row.met_by(malt.blended(portions))


@pytest.mark.parametrize(("key", "flags"), [("P009", []), ("P010", [Flag.SUM])])
def test_sieve_tests_whose_parts_make_the_whole_or_not(key: str, flags: list[Flag]) -> None:
    assert _sieved(key) == flags


def test_flour_has_an_edge() -> None:
    assert Flag.MUCH_FLOUR in _sieved("P011")


def _sieved(key: str) -> list[Flag]:
    row = check(key)
    return malt.sieve_flags(
        husk_percent=row.given("husk"), grits_percent=row.given("grits"), flour_percent=row.given("flour")
    )


def test_a_load_a_grist_and_a_silo_by_hand() -> None:
    assert malt.net_kilograms(gross_kilograms=44_000, tare_kilograms=15_980) == 28_020
    assert malt.off_target_percent(kilograms=5_060, target_kilograms=5_000) == pytest.approx(1.2)
    assert malt.variance_percent(book_kilograms=300, throughput_kilograms=28_000) == pytest.approx(1.0714, abs=1e-4)
    assert malt.variance_percent(book_kilograms=-300, throughput_kilograms=28_000) < 0


@pytest.mark.parametrize(
    "refused",
    [
        lambda: malt.net_kilograms(gross_kilograms=15_980, tare_kilograms=44_000),
        lambda: malt.blended([]),
        lambda: malt.blended([Portion(0, 400)]),
        lambda: malt.blended([Portion(-1, 400)]),
        lambda: malt.off_target_percent(kilograms=1, target_kilograms=0),
        lambda: malt.variance_percent(book_kilograms=1, throughput_kilograms=0),
        lambda: malt.sieve_flags(husk_percent=101, grits_percent=0, flour_percent=0),
        lambda: malt.expected_lpa(grist_kilograms=float("nan"), lpa_per_tonne=400),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(refused: object) -> None:
    with pytest.raises(AlcoholometryError) as error:
        refused()  # type: ignore[operator]
    assert str(error.value).strip()


@given(st.lists(st.tuples(st.floats(0.1, 1e5), st.floats(0, 500)), min_size=1, max_size=8))
def test_a_blend_lies_between_its_lots(lots: list[tuple[float, float]]) -> None:
    mean = malt.blended(Portion(*lot) for lot in lots)
    figures = [figure for _weight, figure in lots]
    assert min(figures) - 1e-6 <= mean <= max(figures) + 1e-6
