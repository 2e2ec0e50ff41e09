"""Each sum of the bench against check values with their sources, signed out as staff find it."""

from __future__ import annotations

import pytest

from tests.distillery.bench.bench_plant import expanded, facts, make_plant, table, value

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _plant() -> None:
    make_plant()


def test_gauge_of_the_worked_tank(stranger):
    """Tank of 2480 L at 14.0 °C reading 61.0: q 63.057, V20 2493.27, L 1572.17, sensitivities 24.649 LPA per % vol
    and -9.843 LPA per °C; worked outside the program with OIML R 22:1975 and JCGM 100."""
    page = stranger.get(
        "/bench/gauge/",
        {"vessel": "SR1", "dip_mm": "1000", "celsius": "14", "hydrometer_percent": "61", "instrument": "ALC"},
    )
    shown = facts(page)
    assert value(shown["Pure alcohol"]) == 1572.17
    assert value(shown["Volume at 20 °C"]) == pytest.approx(2493.27, abs=0.051)
    assert value(shown["True strength at 20 °C"]) == pytest.approx(63.057, abs=0.0051)
    # Dip 0.85 mm at 2.48 L/mm and 0.63394 LPA/L, thermometer 0.08 °C, hydrometer 0.06 % vol.
    by_hand = 2 * ((0.85 * 2.48 * 0.63394) ** 2 + (0.08 * 9.843) ** 2 + (0.06 * 24.649) ** 2) ** 0.5
    assert expanded(shown["Pure alcohol"]) == pytest.approx(by_hand, abs=0.006)
    # Mass does not depend on temperature but through the reading: 2480 L at the density of 61 % at 14 °C.
    assert value(shown["True mass"]) == pytest.approx(2249.4, abs=0.06)
    assert "<details>" in page.content.decode()
    assert "THERM" in page.content.decode()


def test_gauge_of_wash_names_its_table(stranger):
    """1060 to 998: drop 62.0 × 0.132 = 8.184 % vol (HMRC Excise Notice 226)."""
    page = stranger.get(
        "/bench/gauge/",
        {
            "vessel": "WB1",
            "dip_mm": "1000",
            "celsius": "20",
            "instrument": "ALC",
            "original_gravity": "1.060",
            "present_gravity": "0.998",
        },
    )
    shown = facts(page)
    assert value(shown["True strength at 20 °C"]) == 8.18
    assert value(shown["Pure alcohol"]) == pytest.approx(2250 * 0.08184, abs=0.006)
    assert "Excise Notice 226" in page.content.decode()


@pytest.mark.parametrize("row", table("computed_alcoholometer_reading_to_true_20C.csv"))
def test_reading_against_the_computed_table(stranger, row):
    """computed_alcoholometer_reading_to_true_20C.csv (OIML R 22:1975, glass 25e-6), to the digits shown."""
    reading, celsius, true = row
    page = stranger.get("/bench/reading/", {"hydrometer_percent": reading, "celsius": celsius, "instrument": "20"})
    assert value(facts(page)["True strength at 20 °C"]) == pytest.approx(float(true), abs=0.0057)


def test_reading_gives_the_volume_factor(stranger):
    """computed_volume_factor_to_20C.csv: 63.5 % vol, 15 °C, 1.004478, at the true strength."""
    shown = facts(
        stranger.get(
            "/bench/reading/", {"hydrometer_percent": "61.78", "celsius": "15", "instrument": "20", "litres": "1000"}
        )
    )
    assert value(shown["True strength at 20 °C"]) == pytest.approx(63.5, abs=0.03)
    assert value(shown["Volume factor to 20 °C"]) == pytest.approx(1.004478, abs=1e-5)
    assert value(shown["Volume at 20 °C"]) == pytest.approx(1004.48, abs=0.011)


def test_certificate_correction_comes_first(stranger):
    """27 CFR 30.23: corrections are applied to reading and thermometer before anything else."""
    corrected = facts(
        stranger.get(
            "/bench/reading/",
            {
                "hydrometer_percent": "63.4",
                "celsius": "10.2",
                "instrument": "20",
                "hydrometer_correction": "0.1",
                "thermometer_correction": "-0.2",
            },
        )
    )
    plain = facts(stranger.get("/bench/reading/", {"hydrometer_percent": "63.5", "celsius": "10", "instrument": "20"}))
    assert corrected == plain


@pytest.mark.parametrize("row", table("density_by_abv_20C.csv"))
def test_density_meter_in_vacuum(stranger, row):
    """density_by_abv_20C.csv, a published sheet on diluting ethanol; 0.01 kg/m³ is about 0.01 % vol."""
    percent, density = row
    page = stranger.get("/bench/density/", {"density": density, "basis": "vacuum", "celsius": "20"})
    assert value(facts(page)["True strength at 20 °C"]) == pytest.approx(float(percent), abs=0.015)


def test_density_meter_in_air(stranger):
    """Canadian Alcoholometric Laboratory Table 1996: absolute ethanol 788.159 kg/m³ in air at 20 °C."""
    page = stranger.get("/bench/density/", {"density": "788.16", "basis": "air", "celsius": "20"})
    assert value(facts(page)["True strength at 20 °C"]) == pytest.approx(100, abs=0.006)


@pytest.mark.parametrize("row", table("computed_reduction.csv"))
def test_reduction_against_the_computed_table(stranger, row):
    """computed_reduction.csv (OIML R 22:1975)."""
    litres, start, target, water_kg, water_litres, final, contraction = row
    shown = facts(
        stranger.get(
            "/bench/reduce/", {"litres20": litres, "percent20": start, "aim": "strength", "target_percent": target}
        )
    )
    assert value(shown["Water by true mass"]) == pytest.approx(float(water_kg), abs=0.0057)
    assert value(shown["Water by volume at 20 °C"]) == pytest.approx(float(water_litres), abs=0.0057)
    assert value(shown["Final volume at 20 °C"]) == pytest.approx(float(final), abs=0.0057)
    assert value(shown["Contraction, not a loss"]) == pytest.approx(float(contraction), abs=0.0057)
    assert value(shown["Water by weight, as the scale shows it"]) < value(shown["Water by true mass"])


def test_reduction_by_volume_and_by_capacity_agree_at_20_degrees(stranger):
    """Volume after is V1 × S1 / S2, since alcohol is conserved: 1587.5 L brings 63.5 % to 40 %."""
    start = {"litres20": "1000", "percent20": "63.5"}
    by_volume = facts(stranger.get("/bench/reduce/", {**start, "aim": "volume", "final_litres20": "1587.5"}))
    by_capacity = facts(
        stranger.get("/bench/reduce/", {**start, "aim": "capacity", "capacity_litres": "1587.5", "celsius": "20"})
    )
    for shown in (by_volume, by_capacity):
        assert value(shown["Final strength at 20 °C"]) == 40.0
        assert value(shown["Water by true mass"]) == pytest.approx(603.867, abs=0.006)


def test_first_addition_and_trim_make_the_whole(stranger):
    page = stranger.get(
        "/bench/reduce/", {"litres20": "1000", "percent20": "63.5", "aim": "strength", "target_percent": "40"}
    )
    shown = facts(page)
    first = value(shown["Add first, as the scale shows it"])
    whole = value(shown["Water by weight, as the scale shows it"])
    assert first == pytest.approx(0.95 * whole, abs=0.011)
    assert first + value(shown["Kept back for the trim"]) == pytest.approx(whole, abs=0.011)
    trim = facts(
        stranger.get(
            "/bench/reduce/",
            {
                "litres20": str(value(shown["then mix and gauge: expect"])),
                "percent20": str(value(shown["at a strength of"])),
                "aim": "strength",
                "target_percent": "40",
            },
        )
    )
    # The expected gauge is shown to 0.1 L and 0.01 % vol: 0.01 % vol of 1558 L is 0.4 kg of water.
    assert value(trim["Water by weight, as the scale shows it"]) == pytest.approx(whole - first, abs=0.25)


def test_blend_against_the_computed_table(stranger):
    """computed_blend.csv: three parts make 429.701 L at 58.5896 % vol, 391.9897 kg, 251.76 LPA."""
    shown = facts(
        stranger.get(
            "/bench/blend/",
            {
                "litres_1": "200",
                "percent_1": "63.5",
                "litres_2": "180",
                "percent_2": "58.2",
                "litres_6": "50",
                "percent_6": "40",
            },
        )
    )
    assert value(shown["Volume at 20 °C"]) == 429.7
    assert value(shown["Strength at 20 °C"]) == 58.59
    assert value(shown["True mass"]) == 391.99
    assert value(shown["Pure alcohol"]) == 251.76
    assert value(shown["Contraction, not a loss"]) == 0.3


def test_a_blend_says_from_when_it_can_be_lit(stranger):
    """Row P117 of `tests/data/process_checks.csv`: 26 °C at 40 % vol; nothing is said of water."""
    answer = stranger.get("/bench/blend/", {"litres_1": "100", "percent_1": "40"})
    assert "Flash point about 26 °C" in answer.content.decode()
    water = stranger.get("/bench/blend/", {"litres_1": "100", "percent_1": "0"})
    assert "Flash point" not in water.content.decode()


def test_one_hydrometer_is_common_to_all_parts(stranger):
    """JCGM 100:2008, 5.2: a common error adds with sign, so two halves are as uncertain in strength as the whole."""
    halves = facts(
        stranger.get(
            "/bench/blend/",
            {
                "litres_1": "100",
                "percent_1": "60",
                "litres_2": "100",
                "percent_2": "60",
                "share_pm": "0",
                "percent_pm": "0.2",
            },
        )
    )
    assert expanded(halves["Strength at 20 °C"]) == pytest.approx(0.2, abs=0.001)
    assert expanded(halves["Pure alcohol"]) == pytest.approx(0.4, abs=0.001)


def test_cask_of_200_kilograms(stranger):
    """200 kg in air at 63.5 % vol are 141.10 LPA; without buoyancy it would be 140.93 (OIML R 22:1975, OIML D 28)."""
    page = stranger.get(
        "/bench/cask/",
        {"cask": "hw-0001", "gross_kg": "248.2", "celsius": "20", "hydrometer_percent": "63.5", "instrument": "ALC"},
    )
    shown = facts(page)
    assert value(shown["Pure alcohol"]) == pytest.approx(141.10, abs=0.006)
    assert value(shown["Net weight in air"]) == 200.0
    assert expanded(shown["Net weight in air"]) == pytest.approx(2 * 0.1 * 2**0.5, abs=0.05)


@pytest.mark.parametrize("row", table("computed_gravity_to_abv.csv"))
def test_wash_against_the_factor_table(stranger, row):
    """computed_gravity_to_abv.csv, worked with the factors of HMRC Excise Notice 226."""
    original, present, _drop, factor, strength, down = row
    shown = facts(
        stranger.get(
            "/bench/wash/",
            {
                "original_gravity": str(float(original) / 1000),
                "original_celsius": "20",
                "present_gravity": str(float(present) / 1000),
                "present_celsius": "20",
                "instrument": "SACC",
            },
        )
    )
    assert shown["Factor"].startswith(factor)
    assert value(shown["Strength of the wash, estimated"]) == pytest.approx(float(strength), abs=0.0051)
    assert value(shown["Rounded down to one decimal"]) == float(down)


def test_warm_wash_is_corrected_and_cautioned(stranger):
    """1.040 read at 30 °C is 1.0424 at 20 °C (water by Tanaka et al., Metrologia 38 (2001))."""
    page = stranger.get(
        "/bench/wash/",
        {
            "original_gravity": "1.040",
            "original_celsius": "30",
            "present_gravity": "1.0424",
            "present_celsius": "20",
            "instrument": "SACC",
        },
    )
    assert value(facts(page)["Gravity drop"]) == 0.0
    warm = stranger.get(
        "/bench/wash/",
        {
            "original_gravity": "1.060",
            "original_celsius": "20",
            "present_gravity": "1.000",
            "present_celsius": "33",
            "instrument": "SACC",
        },
    )
    assert "fair from 10 to 30 °C only" in warm.content.decode()


def test_conversions_of_spirit(stranger):
    """40 % vol: 948.05 kg/m³ (published sheet), 79.86 US proof (39.93 % vol at 60 °F); 840 L hold 336 LPA
    (HMRC HMEXSH5030)."""
    shown = facts(stranger.get("/bench/convert/", {"value": "40", "scale": "percent_vol", "litres20": "840"}))
    assert value(shown["Density in vacuum at 20 °C"]) == pytest.approx(948.05, abs=0.01)
    assert value(shown["US proof at 60 °F"]) == pytest.approx(79.86, abs=0.011)
    assert value(shown["Pure alcohol at 20 °C"]) == 336.0
    # A figure typed as 40 is right to half a unit: ±0.5 / √3, twice.
    assert expanded(shown["Strength at 20 °C"]) == pytest.approx(2 * 0.5 / 3**0.5, abs=0.001)


@pytest.mark.parametrize(
    ("scale", "given"),
    [("percent_mass", "33.300"), ("vacuum", "948.05"), ("air", "946.99"), ("us_proof", "79.86")],
)
def test_conversions_come_back(stranger, scale, given):
    """The scales of 40 % vol as the test above has them, each taken back."""
    shown = facts(stranger.get("/bench/convert/", {"value": given, "scale": scale}))
    assert value(shown["Strength at 20 °C"]) == pytest.approx(40.0, abs=0.006)


def test_conversions_of_wort(stranger):
    """SG 1.040 is 9.99 °P (fit to the table of the US National Bureau of Standards)."""
    assert value(facts(stranger.get("/bench/convert/", {"value": "1.040", "scale": "gravity"}))["Extract"]) == 9.99
    back = facts(stranger.get("/bench/convert/", {"value": "9.99", "scale": "plato"}))
    assert value(back["Relative density 20/20"]) == pytest.approx(1.040, abs=2e-5)


def test_a_reading_below_that_of_water_is_nothing_and_its_distance_is_in_the_plus_minus(stranger):
    """Water at 25 °C shows 0.69 on a 20 °C instrument (OIML R 22:1975 and its glass), so 0.4 there is 0.29 short."""
    page = stranger.get("/bench/reading/", {"hydrometer_percent": "0.4", "celsius": "25", "instrument": "20"})
    shown = facts(page)["True strength at 20 °C"]
    assert value(shown) == 0
    assert expanded(shown) == pytest.approx(2 * 0.29, abs=0.15)
    assert "nothing within the instrument" in page.content.decode()
    meter = stranger.get("/bench/density/", {"density": "998.30", "basis": "vacuum", "celsius": "20"})
    assert value(facts(meter)["True strength at 20 °C"]) == 0


@pytest.mark.parametrize("typed", ["1.0603", "1060.3", "60.3", "1,0603"])
def test_a_gravity_is_taken_in_degrees_or_as_relative_density(stranger, typed):
    """Excise Notice 226 counts OG 1.050 as 1050 degrees: 60.3 degrees of drop less 1.7 below water, × 0.132."""
    page = stranger.get(
        "/bench/gauge/",
        {
            "vessel": "WB1",
            "dip_mm": "1000",
            "celsius": "20",
            "instrument": "ALC",
            "original_gravity": typed,
            "present_gravity": "998.3",
        },
    )
    assert value(facts(page)["True strength at 20 °C"]) == pytest.approx(62.0 * 0.132, abs=0.0051)
    assert "998.3 degrees are taken as 0.9983" in page.content.decode()


def test_a_decimal_comma_is_read_as_on_the_sheets(stranger):
    with_comma = stranger.get("/bench/reading/", {"hydrometer_percent": "63,5", "celsius": "20", "instrument": "20"})
    assert value(facts(with_comma)["True strength at 20 °C"]) == 63.5


def test_wash_at_the_edge_of_a_band_is_as_unsure_as_the_table_steps(stranger):
    """57.2 degrees lie a tenth above an edge of Excise Notice 226: 0.131 below it, 0.132 from there on; with u 0.28
    degrees the step adds about as much as both gravities leave open."""

    def shown(original: str) -> float:
        page = stranger.get(
            "/bench/wash/",
            {
                "original_gravity": original,
                "original_celsius": "20",
                "present_gravity": "0.998",
                "present_celsius": "20",
                "instrument": "20",
            },
        )
        return expanded(facts(page)["Strength of the wash, estimated"])

    assert shown("1.0552") > 1.4 * shown("1.0600")
