"""Figures in United States units and readings of other scales, as they are typed and as they are posted.

The plant is invented; the factors are the exact ones of NIST SP 811, figures from memory.
"""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.loading.load_folder import BadRows, load_folder
from batches.pages.records.shown import as_text, unit_of
from batches.sheets import fields
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.other_units import says_other_unit
from batches.sheets.typed.parsing import read
from distillery.alcoholometry.proof import percent20_of_us_proof
from distillery.plant.models import Instrument
from ledger.comparing.observations.from_ledger import log_of
from ledger.models import Gauge, MeasuredFlow

from .tiny_month import LOG, PLANT, write_folder

LITRES = fields.litres("pot_ale_litres", "Pot ale")
WEIGHT = fields.kilograms("gross_kg", "Gross")
CELSIUS = fields.celsius("celsius", "Temperature")
STRENGTH = fields.percent("label_percent", "Strength on the label")
SHOWN = fields.percent("gauge_hydrometer_percent", "Hydrometer", usual=("20", "70"))


@pytest.mark.parametrize(
    ("field", "typed", "value"),
    [
        (LITRES, "52.8 gal", "199.869742"),
        (LITRES, "1 US gal.", "3.785412"),
        (LITRES, "1,000 gallons", None),
        (WEIGHT, "441 lb", "200.034235"),
        (WEIGHT, "100 lbs", "45.359237"),
        (CELSIUS, "60 °F", "15.555556"),
        (CELSIUS, "32F", "0.000000"),
        (CELSIUS, "-4 f", "-20.000000"),
        (SHOWN, "127.0 proof", "127.0"),
        (SHOWN, "901.15 kg/m3", "901.15"),
        (SHOWN, "55.6 % mas", "55.6"),
        (SHOWN, "63.5 % vol", "63.5"),
    ],
)
def test_a_unit_that_is_said_is_understood(field, typed, value):
    if value is None:
        # A comma before three digits can be read two ways, in any unit.
        with pytest.raises(Unreadable, match="can mean"):
            read(field, typed)
    else:
        assert read(field, typed).value == Decimal(value)
        assert not read(field, typed).notes


# Column % vol at 20 °C of US proof: 40.00 % at 20 °C is 39.93 % at 60 °F, so 79.86 proof; 50 is 99.88, 95 is 189.98;
# OIML R 22:1975, computed outside the program to two digits.
@pytest.mark.parametrize(("proof", "percent"), [("79.86", 40.0), ("99.88", 50.0), ("126.90", 63.5), ("189.98", 95.0)])
def test_proof_is_percent_at_another_temperature(proof, percent):
    assert float(read(STRENGTH, f"{proof} proof").value) == pytest.approx(percent, abs=0.01)


@given(st.decimals("0", "200", places=1))
def test_any_proof_comes_out_as_alcoholometry_has_it(proof):
    assert float(read(STRENGTH, f"{proof} proof").value) == pytest.approx(percent20_of_us_proof(float(proof)), abs=1e-6)


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        (CELSIUS, "120 °F", "cannot be above 40"),
        (STRENGTH, "201 proof", "0 to 200"),
        (SHOWN, "201 proof", "cannot be above 200"),
        (SHOWN, "127", "cannot be above 100"),
        (WEIGHT, "10 gal", "is in kg"),
        (LITRES, "10 proof", "is in L"),
        (LITRES, "9" * 38 + " gal", "characters|too long|cannot be above"),
    ],
)
def test_what_cannot_be_is_refused_in_words(field, typed, says):
    with pytest.raises(Unreadable, match=says):
        read(field, typed)


@pytest.mark.parametrize(
    ("field", "typed", "text", "unit"),
    [
        (WEIGHT, "441 lb", "441 lb (200.034235 kg)", ""),
        (WEIGHT, "200.0", "200.0", "kg"),
        (CELSIUS, "60 °F", "60 °F (15.555556 °C)", ""),
        (SHOWN, "127 proof", "127 proof", ""),
        (SHOWN, "63.5", "63.5", "% vol"),
    ],
)
def test_a_page_shows_what_was_typed_and_what_it_was_taken_for(field, typed, text, unit):
    assert (as_text(field, typed), unit_of(field, typed)) == (text, unit)
    assert says_other_unit(field, typed) == (unit == "")


class TestAMonthInUnitedStatesUnits:
    pytestmark = pytest.mark.django_db

    def test_a_residue_in_gallons_and_a_temperature_in_fahrenheit_are_taken_over(self, tmp_path: Path) -> None:
        """1,600 L of pot ale are 422.675284 US gallons; 68 °F is 20 °C: the same books, to the rounding of the text."""
        log = LOG["wash_runs"].replace(",1600,0.1", ",422.675284 gal,0.1").replace("L1,200,20,24", "L1,200,68 °F,24")
        load_folder(write_folder(tmp_path, wash_runs=log))
        pot_ale = MeasuredFlow.objects.get(name="pot_ale_litres")
        assert pot_ale.pure_ul == pytest.approx(1_600_000, abs=2)
        gauge = Gauge.objects.get(movement__record_number="WR0001", name="receiver_before")
        assert gauge.pure_ul == 48_000_000

    def test_a_bare_figure_is_never_taken_for_another_scale(self, tmp_path: Path) -> None:
        """With a proof hydrometer in use at V1 the log's bare 63.5 is no reading of it."""
        opening = "V1,2027-03-01T06:00,1000,20,"
        log = LOG["opening_stock"].replace(f"{opening}63.5", f"{opening}127 proof")
        folder = write_folder(tmp_path, opening_stock=log)
        instruments = PLANT["instruments"] + "PRF,strength,us_proof,0.1,0.06,15.5556\n"
        (folder / "plant" / "instruments.csv").write_text(instruments, encoding="utf-8")
        (folder / "plant" / "instruments_in_use.csv").write_text(
            "instrument,from_day,vessel\nPRF,2027-01-01,V1\n", encoding="utf-8"
        )
        with pytest.raises(BadRows) as refused:
            load_folder(folder)
        told = refused.value.bad
        assert told
        assert not [bad for bad in told if "opening_stock" in bad.file]
        assert all("is in % vol, but what was in use then is graduated in US proof" in bad.reason for bad in told)

    def test_a_scale_that_was_not_in_use_is_refused(self, tmp_path: Path) -> None:
        opening = "V1,2027-03-01T06:00,1000,20,"
        log = LOG["opening_stock"].replace(f"{opening}63.5", f"{opening}127 proof")
        with pytest.raises(BadRows) as refused:
            load_folder(write_folder(tmp_path, opening_stock=log))
        assert any(
            "is in US proof, but what was in use then is graduated in % vol" in bad.reason for bad in refused.value.bad
        )
        assert not Instrument.objects.exists()


@pytest.mark.django_db
def test_a_month_with_gravities_in_degrees_comes_to_the_same_books(tmp_path: Path) -> None:
    """OG 1.0600 is 1060.0 degrees, FG 0.9980 is -2 degrees below water: one wash, one alcohol, one uncertainty."""
    fermentations = LOG["fermentations"].replace("1.0600", "1060.0").replace("0.9980", "-2.0")
    load_folder(write_folder(tmp_path, fermentations=fermentations))
    gauge = Gauge.objects.get(movement__record_number="FE0001")
    # 62.0 degrees: 8.184 % vol of 2,400 litres (Excise Notice 226).
    assert gauge.pure_ul == pytest.approx(196_416_000, abs=2)
    readings = {
        one.column: one
        for event in log_of("2027-03").events
        for one in event.measured.readings
        if one.record == "FE0001" and one.column.endswith("gravity")
    }
    assert readings["original_gravity"].typed == "1.0600"
    assert readings["final_gravity"].typed == "0.9980"
