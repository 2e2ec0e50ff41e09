"""Which instrument, certificate, calibration and obscuration a gauge of a day rests on, and what they do to it."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import DatabaseError, connection, transaction

from distillery.alcoholometry.errors import NoReferenceTemperature, OutsideCertificate, UnstatedBasis, WrongScale
from distillery.alcoholometry.reading import Alcoholometer, DensityMeter
from distillery.plant import keeping
from distillery.plant.checks import triggers_stand
from distillery.plant.gauges import by_weight, by_weight_at_strength, read_dip, spirit_by_dip
from distillery.plant.guards import FACTS
from distillery.plant.lookup import Plant
from distillery.plant.metrology import Certificate, ObscurationFound
from distillery.plant.models import Recipe
from tests.distillery.plant.measured_plant import MORNING, instrument, tank

pytestmark = pytest.mark.django_db

MARCH, APRIL = date(2027, 3, 1), date(2027, 4, 1)


def certify(one, *points: tuple[str, str], u: str | None = None, on: date = MARCH, number: str = "C1") -> Certificate:
    return keeping.add_certificate(
        instrument=one,
        number=number,
        issuer="an invented laboratory",
        issued_on=on,
        from_day=on,
        points=[(Decimal(reading), Decimal(correction)) for reading, correction in points],
        standard_uncertainty=None if u is None else Decimal(u),
        person=None,
    )


def hide(vessel, percent: str, u: str = "0", *, hours: int = 0) -> ObscurationFound:
    return keeping.add_obscuration(
        vessel=vessel,
        from_at=MORNING + timedelta(hours=hours),
        percent=Decimal(percent),
        standard_uncertainty=Decimal(u),
        determined_on=MARCH,
        source="sample distilled",
        person=None,
    )


def gauged(vessel, *, on: date = MARCH, at=None, mm: float = 1000, celsius: float = 14.0, reading: float = 61.0):
    plant = Plant()
    outfit = plant.outfit(on, vessel=vessel, at=at)
    return spirit_by_dip(read_dip(plant.table(vessel), outfit, mm), outfit, celsius=celsius, reading=reading)


def test_the_worked_tank_with_its_vessel_and_instruments_on_record():
    """2480 L at 14.0 °C reading 61.0; limits 0.3 % of volume, 0.2 and 0.3 °C, 0.10 and 0.05 % vol as rectangular:
    u = 3.76 LPA, worked outside the program by JCGM 100:2008, 5.1.2; the `uncertainties` package gives the same."""
    vessel = tank()
    # The dip itself is taken as exact there, so its part is made too small to see.
    instrument("DIP", "dip", 0.000001)
    instrument("THERM", "temperature", ((0.2**2 + 0.3**2) / 3) ** 0.5)
    instrument("ALC", "strength", ((0.1**2 + 0.05**2) / 3) ** 0.5, 20.0)
    keeping.add_calibration(
        vessel=vessel, from_day=MARCH, standard_percent=Decimal(repr(0.3 / 3**0.5)), source="limit 0.3 %", person=None
    )
    chain = gauged(vessel)
    assert chain.quantity.lpa == pytest.approx(1572.17, abs=0.005)
    assert chain.quantity.uncertainty_ul / 1e6 == pytest.approx(3.76, abs=0.005)
    assert {row.instrument for row in chain.contributions} == {"DIP", "THERM", "ALC", "calibration of SV1"}


def test_certificates_correct_thermometer_and_hydrometer_before_all_else():
    """27 CFR 30.23: readings corrected by hand (+0.1 at 61, -0.2 at 14) give the same without a certificate."""
    vessel = tank()
    alc, therm = instrument("ALC", "strength", 0.06, 20.0), instrument("THERM", "temperature", 0.08)
    plain = gauged(vessel, celsius=13.8, reading=61.1)
    certify(alc, ("60", "0.0"), ("62", "0.2"))
    certify(therm, ("0", "-0.2"), ("40", "-0.2"))
    corrected = gauged(vessel)
    assert corrected.quantity.pure_ul == plain.quantity.pure_ul
    assert [(step.name, round(step.value, 6)) for step in corrected.steps[:2]] == [
        ("Temperature, corrected", 13.8),
        ("Hydrometer reading, corrected", 61.1),
    ]
    assert "certificate C1, an invented laboratory, Mon 1 Mar 2027" in corrected.steps[1].source
    with pytest.raises(OutsideCertificate, match="covers 60 to 62"):
        gauged(vessel, reading=63.0)


def test_a_certificate_counts_from_its_own_day_and_the_last_entered_of_a_day_counts():
    alc = instrument("ALC", "strength", 0.06, 20.0)
    vessel = tank()
    certify(alc, ("0", "0.5"), ("100", "0.5"), on=APRIL)
    assert len(gauged(vessel).steps) == 4
    certify(alc, ("0", "0.1"), ("100", "0.1"), on=APRIL)
    assert gauged(vessel, on=APRIL).steps[0].value == pytest.approx(61.1)


def test_what_a_certificate_leaves_open_lasts_and_is_added_by_squares():
    """0.06 of one reading and 0.08 of the certificate make 0.10, of which 64 % of the variance lasts; by hand."""
    certify(instrument("ALC", "strength", 0.06, 20.0), u="0.08")
    instrument("THERM", "temperature", 0.08)
    u = Plant().outfit(MARCH).uncertainty
    assert (u.percent, u.lasting.percent) == pytest.approx((0.1, 0.64))
    assert (u.celsius, u.lasting.celsius) == (0.08, 0.0)


def test_instruments_in_use_by_day_and_by_vessel():
    first, second = instrument("ALC1", "strength", 0.06, 20.0), instrument("ALC0", "strength", 0.06, 20.0)
    own = instrument("ALC9", "strength", 0.06, 20.0)
    vat, other = tank("SV1"), tank("SV2")
    assert Plant().outfit(MARCH).names.alcoholometer == "ALC1"
    keeping.take_into_use(instrument=second, from_day=APRIL, person=None)
    keeping.take_into_use(instrument=own, from_day=APRIL, vessel=vat, person=None)
    names = {
        (day, vessel.code): Plant().outfit(day, vessel=vessel).names.alcoholometer
        for day in (MARCH, APRIL)
        for vessel in (vat, other)
    }
    assert names == {
        (MARCH, "SV1"): "ALC1",
        (MARCH, "SV2"): "ALC1",
        (APRIL, "SV1"): "ALC9",
        (APRIL, "SV2"): "ALC0",
    }
    keeping.take_into_use(instrument=first, from_day=date(2027, 5, 1), person=None)
    assert Plant().outfit(date(2027, 5, 2)).names.alcoholometer == "ALC1"


@pytest.mark.parametrize(
    ("unit", "more", "celsius", "error", "says"),
    [
        ("percent_vol", {}, None, NoReferenceTemperature, "no reference temperature"),
        ("kg/m3", {}, 20.0, UnstatedBasis, "in air or in vacuum"),
        ("kg/m3", {"works_by": "oscillation"}, 20.0, UnstatedBasis, "in air or in vacuum"),
        ("kg/m3", {"works_by": "oscillation", "density_basis": "air"}, None, NoReferenceTemperature, "cell"),
        ("percent_vol", {"works_by": "oscillation"}, 20.0, WrongScale, "kg/m3"),
        ("spirit degrees", {}, 20.0, WrongScale, "percent_vol"),
    ],
)
def test_an_instrument_that_does_not_say_what_it_shows_is_refused_by_name(unit, more, celsius, error, says):
    instrument("ALC", "strength", 0.06, celsius, unit=unit, **more)
    with pytest.raises(error, match=says):
        gauged(tank())


@pytest.mark.parametrize(("unit", "basis", "reading"), [("kg/m3", "vacuum", 901.154), ("kg/m3", "air", 900.089)])
def test_a_density_meter_measures_at_its_cell_whatever_the_vessel_has(unit, basis, reading):
    """63.5 % vol is 901.154 kg/m³ in vacuum and 900.089 in air at 20 °C (OIML R 22:1975; air 1.2 kg/m³, weights 8000,
    OIML D 28), computed outside the program. The vessel's 10 °C changes its litres only: factor 1.00889."""
    instrument("DM", "strength", 0.05, 20.0, unit=unit, works_by="oscillation", density_basis=basis)
    vessel = tank()
    assert isinstance(Plant().outfit(MARCH).alcoholometer, DensityMeter)
    chain = gauged(vessel, celsius=10.0, reading=reading)
    assert chain.quantity.percent20 == pytest.approx(63.5, abs=0.001)
    assert chain.quantity.litres20 == pytest.approx(2480 * 1.00889, abs=0.03)
    hydrometer = next(row for row in chain.contributions if row.reading == "hydrometer")
    # 0.43 % vol for each kg/m³ at 63.5, less alcohol the denser; sensitivity from the same outside computation.
    assert (hydrometer.unit, round(hydrometer.sensitivity_percent, 2)) == ("kg/m³", -0.43)


def test_a_hydrometer_in_us_proof_at_60_fahrenheit():
    """27 CFR 30.61: a glass proof hydrometer that shows 193 at 75 °F stands in spirit of 189.5 proof (tolerance of the
    published table against OIML R 22, 0.06 proof)."""
    from distillery.alcoholometry.proof import celsius_of_fahrenheit, us_proof_of_percent20

    instrument("PROOF", "strength", 0.06, 15.5556, unit="us_proof")
    chain = gauged(tank(), celsius=celsius_of_fahrenheit(75), reading=193)
    assert us_proof_of_percent20(chain.quantity.percent20) == pytest.approx(189.5, abs=0.06)
    assert isinstance(Plant().outfit(MARCH).alcoholometer, Alcoholometer)


def test_obscuration_counts_from_its_moment_until_the_next_and_is_lasting():
    vessel = tank()
    clear = gauged(vessel, at=MORNING)
    hide(vessel, "0.6", "0.05")
    hide(vessel, "0", hours=5)
    before, within, after = (gauged(vessel, at=MORNING + timedelta(hours=hours)) for hours in (-1, 2, 6))
    assert before.quantity == after.quantity == clear.quantity
    assert within.quantity.percent20 == pytest.approx(clear.quantity.percent20 + 0.6, abs=1e-9)
    assert within.quantity.mass_g == clear.quantity.mass_g
    hidden = next(row for row in within.contributions if row.reading == "obscuration")
    assert (hidden.instrument, hidden.lasting_share) == ("obscuration of SV1, 2027-03-01", 1.0)
    assert [step.name for step in within.steps][:3] == ["Apparent strength", "Obscuration", "True strength"]


def test_the_shell_grows_from_the_temperature_of_the_calibration():
    """5e-5 of the volume for a degree, 6 °C below its calibration: by hand."""
    vessel = tank()
    plain = gauged(vessel)
    keeping.add_calibration(
        vessel=vessel,
        from_day=MARCH,
        standard_percent=Decimal("0.1"),
        source="certificate",
        calibration_celsius=Decimal(20),
        person=None,
    )
    assert gauged(vessel).quantity.litres20 == pytest.approx(plain.quantity.litres20 * (1 - 6 * 5e-5), rel=1e-9)
    assert gauged(vessel, on=MARCH - timedelta(days=1)).quantity == plain.quantity


def test_the_scale_is_corrected_at_gross_and_at_tare_and_shares_what_lasts():
    """+0.4 at 250 kg and +0.1 at 50 kg add 0.3 to the net; what the certificate leaves open is in both weights alike
    and falls out of their difference, worked by hand."""
    scale = instrument("SCALE", "cask weight", 0.1)
    plant = Plant().outfit(MARCH)
    plain = by_weight_at_strength(plant, gross_kg=250.3, tare_kg=50.0, percent20=63.5)
    certify(scale, ("50", "0.1"), ("250", "0.4"), u="0.2")
    corrected = by_weight_at_strength(Plant().outfit(MARCH), gross_kg=250.0, tare_kg=50.0, percent20=63.5)
    assert corrected.quantity.pure_ul == pytest.approx(plain.quantity.pure_ul, abs=2)
    assert corrected.quantity.uncertainty_ul == pytest.approx(plain.quantity.uncertainty_ul, rel=1e-3)
    by_glass = by_weight(Plant().outfit(MARCH), gross_kg=250.0, tare_kg=50.0, celsius=20.0, reading=63.5)
    assert by_glass.quantity.pure_ul == pytest.approx(corrected.quantity.pure_ul, abs=2)


def test_a_rod_is_corrected_before_the_table_is_read():
    certify(instrument("DIP", "dip", 0.85), ("0", "2"), ("2000", "2"))
    vessel = tank()
    plant = Plant()
    assert read_dip(plant.table(vessel), plant.outfit(MARCH), 998.0).litres == pytest.approx(2480.0)
    assert gauged(vessel, mm=998.0).steps[0].name == "Dip, corrected"


@pytest.mark.parametrize("table", FACTS)
def test_what_was_entered_is_neither_changed_nor_removed(table):
    vessel, alc = tank(), instrument("ALC", "strength", 0.06, 20.0)
    certify(alc, ("0", "0.1"), ("100", "0.1"))
    hide(vessel, "0.5")
    keeping.take_into_use(instrument=alc, from_day=MARCH, person=None)
    keeping.add_calibration(vessel=vessel, from_day=MARCH, standard_percent=Decimal("0.1"), source="x", person=None)
    keeping.add_rows(warehouse="Dunnage 1", rows=["1"], tiers=3, person=None)
    keeping.add_keyholder(
        warehouse="Dunnage 1", name="Isla Venmore", key="main door", from_day=MARCH, until_day=None, person=None
    )
    keeping.add_recipes([Recipe(recipe="No. 9", botanical="juniper", milligrams_per_lpa=20_000)])
    for sql in (f"UPDATE {table} SET id = id", f"DELETE FROM {table}"):
        with pytest.raises(DatabaseError, match="keeps what was written"), transaction.atomic():
            connection.cursor().execute(sql)


def test_every_trigger_of_the_plant_is_looked_for():
    assert triggers_stand(databases=["default"]) == []
