"""US proof, wine and proof gallons against the worked examples of 27 CFR part 30 (sources in the files)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published_tables import allowed, figures, rows

from distillery.alcoholometry.errors import CannotReach, NegativeQuantity, OutOfRange
from distillery.alcoholometry.obscuration import us_proof_hidden_by_solids
from distillery.alcoholometry.proof import (
    factor_to_60_fahrenheit,
    lpa_of_proof_gallons,
    percent20_of_us_proof,
    pounds_of_wine_gallons,
    proof_gallons_of_lpa,
    proof_gallons_of_pounds,
    proof_gallons_of_wine_gallons,
    us_proof_of_percent20,
    water_gallons_per_100_to_reduce,
    water_parts_in_100_volumes,
    water_pounds_to_reduce,
    wine_gallons_per_pound_in_air,
)
from distillery.alcoholometry.rounding import US_CONTAINER_WEIGHT


def test_gallons_per_pound():
    for proof, gallons in figures("us_gallons_per_pound_in_air_60F"):
        found = wine_gallons_per_pound_in_air(proof)
        assert found == pytest.approx(gallons, abs=allowed("us_gallons_per_pound_in_air_60F"))


def test_weight_to_proof_gallons():
    for proof, pounds, gallons, tolerance in figures("us_weight_to_proof_gallons"):
        found = proof_gallons_of_pounds(pounds_in_air=pounds, us_proof=proof)
        assert found == pytest.approx(gallons, abs=tolerance)


def test_weight_of_a_full_container():
    name = "us_container_fill_weight"
    for proof, gallons, pounds in figures(name):
        found = pounds_of_wine_gallons(wine_gallons=gallons, us_proof=proof)
        assert found == pytest.approx(pounds, abs=allowed(name))
        # The rule takes part of an ounce as a whole one; printed to hundredths of a pound.
        assert float(US_CONTAINER_WEIGHT.apply(found)) == pytest.approx(pounds, abs=0.0626 if gallons > 1 else 0.006)


def test_volume_factor_to_60_fahrenheit():
    for proof, fahrenheit, factor in figures("us_volume_correction_factor_to_60F"):
        found = factor_to_60_fahrenheit(us_proof=proof, fahrenheit=fahrenheit)
        assert found == pytest.approx(factor, abs=allowed("us_volume_correction_factor_to_60F"))


def test_water_parts():
    for proof, parts in figures("us_table6_water_parts_per_100_volumes_60F"):
        found = water_parts_in_100_volumes(proof)
        assert found == pytest.approx(parts, abs=allowed("us_table6_water_parts_per_100_volumes_60F"))


def test_reduction_by_volume():
    for start, target, gallons in figures("us_reduction_water_gallons_per_100"):
        found = water_gallons_per_100_to_reduce(from_proof=start, to_proof=target)
        assert found == pytest.approx(gallons, abs=allowed("us_reduction_water_gallons_per_100"))


def test_reduction_by_weight():
    for pounds, start, target, water in figures("us_reduction_water_pounds"):
        found = water_pounds_to_reduce(pounds_in_air=pounds, from_proof=start, to_proof=target)
        assert found == pytest.approx(water, abs=allowed("us_reduction_water_pounds"))


def test_solids():
    for row in rows("us_obscuration"):
        found = us_proof_hidden_by_solids(grams_per_100_ml=float(row["solids_g_per_100_ml"]), us_proof=90)
        assert found == pytest.approx(float(row["obscuration_us_proof_degrees"]), abs=allowed("us_obscuration"))
    with pytest.raises(OutOfRange, match="80 to 100"):
        us_proof_hidden_by_solids(grams_per_100_ml=0.1, us_proof=120)


@given(st.floats(0, 200))
def test_proof_to_percent_and_back(proof):
    assert us_proof_of_percent20(percent20_of_us_proof(proof)) == pytest.approx(proof, rel=1e-9)


def test_proof_gallon_in_litres_of_alcohol():
    """Worked with the formula: half a US gallon of alcohol, swollen from 60 °F to 20 °C."""
    assert lpa_of_proof_gallons(1) == pytest.approx(1.892706 * 793.0 / 789.24, rel=1e-3)
    assert proof_gallons_of_lpa(lpa_of_proof_gallons(37.5)) == pytest.approx(37.5)
    assert proof_gallons_of_wine_gallons(wine_gallons=10, us_proof=190) == pytest.approx(19)


def test_refusals():
    for proof in (-1, 200.1):
        with pytest.raises(OutOfRange):
            percent20_of_us_proof(proof)
    for target in (191, 0):
        with pytest.raises(CannotReach):
            water_gallons_per_100_to_reduce(from_proof=190, to_proof=target)
    with pytest.raises(NegativeQuantity):
        proof_gallons_of_pounds(pounds_in_air=-1, us_proof=100)
