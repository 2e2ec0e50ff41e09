"""Gravities: strength of wash, correction to 20 °C, Plato, extract, attenuation and yield."""

from decimal import Decimal
from math import nan

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published_tables import rows

from distillery.alcoholometry.errors import (
    ImpossibleGravities,
    NoReferenceTemperature,
    NotANumber,
    OutOfRange,
    OutsideTable,
)
from distillery.alcoholometry.gravity import (
    gravity_drop_degrees,
    hmrc_gravity_table,
    read_gravity_table,
    wash_percent,
    wash_percent_exact,
)
from distillery.alcoholometry.rounding import DUTY_STRENGTH
from distillery.alcoholometry.wort import (
    apparent_attenuation_percent,
    corrected_gravity,
    degrees_of_gravity,
    extract_as_is_percent,
    extract_percent_of_litre_degrees,
    fermentable_extract_percent,
    gravity_of_plato,
    litre_degrees_of_extract_percent,
    litre_degrees_per_kg,
    original_gravity_with_addition,
    plato_of_gravity,
    predicted_spirit_yield_lpa_per_tonne,
    real_fermentability_percent,
    water_kg_per_m3,
)

TABLE = hmrc_gravity_table()


def check(wanted: str) -> tuple[dict[str, float], float, float]:
    """Inputs, expected figure and tolerance of a worked figure (source in its row)."""
    row = next(row for row in rows("process_checks") if row["id"] == wanted)
    inputs = {name: float(value) for name, value in (part.split("=") for part in row["inputs"].split("; "))}
    return inputs, float(row["expected"]), 1e-12 if row["tolerance"] == "exact" else float(row["tolerance"])


def test_shipped_table_is_the_published_one():
    """HMRC Excise Notice 226 (two public quotations)."""
    published = rows("hmrc_gravity_drop_factor")
    assert len(TABLE.bands) == len(published)
    for band, row in zip(TABLE.bands, published, strict=True):
        assert [band.from_degrees, band.to_degrees, band.factor] == [Decimal(cell) for cell in row.values()]
    assert "226" in TABLE.source


def test_gravities_to_strength_exactly():
    """Worked with the HMRC table, with the cut to one decimal."""
    for row in rows("computed_gravity_to_abv"):
        original, present, drop, factor, percent, cut = (Decimal(cell) for cell in row.values())
        gravities = {"original_gravity": float(original) / 1000, "present_gravity": float(present) / 1000}
        assert gravity_drop_degrees(**gravities) == drop
        assert TABLE.factor(drop) == factor
        assert wash_percent_exact(**gravities, table=TABLE) == percent
        assert DUTY_STRENGTH.apply(wash_percent_exact(**gravities, table=TABLE)) == cut


@pytest.mark.parametrize("wanted", ["P021", "P022", "P023"])
def test_worked_strengths(wanted):
    inputs, expected, tolerance = check(wanted)
    found = wash_percent(original_gravity=inputs["og"] / 1000, present_gravity=inputs["fg"] / 1000, table=TABLE)
    assert found == pytest.approx(expected, abs=tolerance)


@pytest.mark.parametrize("wanted", ["P024", "P025"])
def test_factor_at_the_edge_of_a_band(wanted):
    inputs, expected, _ = check(wanted)
    assert TABLE.factor(Decimal(str(inputs["attenuation"]))) == Decimal(str(expected))


def test_drop_between_printed_bands_is_brought_to_one_decimal():
    assert TABLE.factor(Decimal("67.94")) == Decimal("0.132")
    assert TABLE.factor(Decimal("67.95")) == Decimal("0.133")
    assert TABLE.factor(Decimal("100.74")) == Decimal("0.135")


def test_no_drop_is_no_alcohol():
    assert wash_percent(original_gravity=1.05, present_gravity=1.05, table=TABLE) == 0


def test_drop_above_the_table_is_refused():
    with pytest.raises(OutsideTable, match="no factor"):
        wash_percent(original_gravity=1.1, present_gravity=0.9992, table=TABLE)


def test_present_above_original_is_refused():
    with pytest.raises(ImpossibleGravities, match="swapped"):
        wash_percent(original_gravity=0.998, present_gravity=1.06, table=TABLE)


def test_gravity_typed_in_degrees_is_refused():
    with pytest.raises(OutOfRange, match=r"1\.0603 and not 1060\.3"):
        wash_percent(original_gravity=1060.3, present_gravity=998.0, table=TABLE)
    with pytest.raises(NotANumber):
        wash_percent(original_gravity=nan, present_gravity=0.998, table=TABLE)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "# From: 2020-01-01\na,b,c\n0,9,0.1",
        "# Source: x\na,b,c\n0,9,0.1",
        "# From: 2020-01-01\n# Source: x\na,b,c",
        "# From: 2020-01-01\n# Source: x\na,b,c\n0,nine,0.1",
        "# From: soon\n# Source: x\na,b,c\n0,9,0.1",
        "# From: 2020-01-01\n# Source: x\na,b,c\n0,9,0.1\n9.2,10,0.2",
        "# From: 2020-01-01\n# Source: x\na,b,c\n9,1,0.1",
        "# From: 2020-01-01\n# Source: x\na,b,c\n0,9,0.1,7",
    ],
)
def test_table_that_cannot_be_used_is_refused(text):
    with pytest.raises(OutsideTable):
        read_gravity_table(text)


@pytest.mark.parametrize(("reading", "celsius", "corrected"), [(1.040, 30.0, 1.0424), (1.040, 10.0, 1.0387)])
def test_gravity_brought_to_20(reading, celsius, corrected):
    """Worked with Tanaka's water and 25e-6 of glass."""
    assert corrected_gravity(reading=reading, celsius=celsius) == pytest.approx(corrected, abs=6e-5)
    assert corrected_gravity(reading=reading, celsius=20.0) == pytest.approx(reading, abs=1e-15)


def test_water_of_tanaka():
    """Tanaka et al., Metrologia 38 (2001) 301-309."""
    for celsius, density in (
        (4, 999.975),
        (10, 999.703),
        (15, 999.103),
        (20, 998.207),
        (25, 997.047),
        (30, 995.649),
        (40, 992.215),
    ):
        assert water_kg_per_m3(celsius) == pytest.approx(density, abs=6e-4)


def test_gravity_of_a_hot_sample_or_nameless_instrument_is_refused():
    with pytest.raises(OutOfRange, match="sample"):
        corrected_gravity(reading=1.04, celsius=41)
    with pytest.raises(NoReferenceTemperature):
        corrected_gravity(reading=1.04, celsius=20, reference_celsius=None)


@pytest.mark.parametrize(("gravity", "plato"), [(1.040, 9.99), (1.060, 14.74), (1.080, 19.33)])
def test_plato(gravity, plato):
    """US National Bureau of Standards table after Bates, by its cubic fit."""
    assert plato_of_gravity(gravity) == pytest.approx(plato, abs=0.006)


@given(st.floats(1.02, 1.10))
def test_plato_by_another_cubic(gravity):
    """The brewers' cubic (from memory) differs by less than 0.006 °P from 1.020 to 1.100."""
    other = -616.868 + 1111.14 * gravity - 630.272 * gravity**2 + 135.997 * gravity**3
    assert plato_of_gravity(gravity) == pytest.approx(other, abs=0.0062)


@given(st.floats(1.0, 1.179))
def test_plato_and_back(gravity):
    assert gravity_of_plato(plato_of_gravity(gravity)) == pytest.approx(gravity, rel=1e-9)


def test_plato_outside_its_table_is_refused():
    for gravity in (0.998, 1.18):
        with pytest.raises(OutOfRange):
            plato_of_gravity(gravity)
    with pytest.raises(OutOfRange):
        gravity_of_plato(45)


def test_malt_extract_and_yield():
    inputs, expected, tolerance = check("P001")
    malt = {
        "soluble_extract_percent": inputs["soluble_extract_pct"],
        "fermentability_percent": inputs["fermentability_pct"],
    }
    assert fermentable_extract_percent(**malt) == pytest.approx(expected, abs=tolerance)
    _, expected, tolerance = check("P002")
    assert predicted_spirit_yield_lpa_per_tonne(**malt) == pytest.approx(expected, abs=tolerance)
    inputs, expected, tolerance = check("P003")
    found = predicted_spirit_yield_lpa_per_tonne(**malt, factor=inputs["factor"])
    assert found == pytest.approx(expected, abs=tolerance)
    inputs, expected, tolerance = check("P004")
    found = extract_as_is_percent(
        dry_extract_percent=inputs["dry_extract_pct"], moisture_percent=inputs["moisture_pct"]
    )
    assert found == pytest.approx(expected, abs=tolerance)


def test_extract_in_litre_degrees():
    inputs, expected, tolerance = check("P005")
    assert litre_degrees_of_extract_percent(inputs["extract_pct"]) == pytest.approx(expected, abs=tolerance)
    inputs, expected, tolerance = check("P015")
    found = litre_degrees_per_kg(
        litres=inputs["wort_l"], gravity=1 + inputs["degrees"] / 1000, grist_kg=inputs["grist_kg"]
    )
    assert found == pytest.approx(expected, abs=tolerance)
    inputs, expected, tolerance = check("P016")
    assert extract_percent_of_litre_degrees(inputs["l_deg_per_kg"]) == pytest.approx(expected, abs=tolerance)
    assert degrees_of_gravity(1.0603) == pytest.approx(60.3)
    with pytest.raises(OutOfRange, match="grist"):
        litre_degrees_per_kg(litres=1, gravity=1.05, grist_kg=0)


def test_attenuation():
    inputs, expected, tolerance = check("P026")
    found = apparent_attenuation_percent(original_gravity=inputs["og"] / 1000, present_gravity=inputs["fg"] / 1000)
    assert found == pytest.approx(expected, abs=tolerance)
    inputs, expected, tolerance = check("P006")
    found = real_fermentability_percent(
        original_gravity=inputs["og"] / 1000,
        present_gravity=inputs["fg"] / 1000,
        attenuation_factor=inputs["attenuation_factor"],
    )
    assert found == pytest.approx(expected, abs=tolerance)
    for original, present in ((1.0, 0.99), (1.01, 1.02)):
        with pytest.raises(ImpossibleGravities):
            apparent_attenuation_percent(original_gravity=original, present_gravity=present)


def test_addition_for_work():
    """HMRC SPIR4080."""
    inputs, expected, tolerance = check("P027")
    found = original_gravity_with_addition(
        measured_gravity=inputs["measured_og"] / 1000, addition_for_work=inputs["addition_for_work"] / 1000
    )
    assert 1000 * found == pytest.approx(expected, abs=tolerance)
