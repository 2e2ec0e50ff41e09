"""What a folder may say of the measuring: read, passed over, refused; and gauges that go through it. Invented."""

from __future__ import annotations

from pathlib import Path

import pytest

from batches.loading.load_folder import BadRows, load_folder
from distillery.plant.metrology import Certificate, InstrumentUse, ObscurationFound, VesselCalibration
from distillery.plant.models import Instrument
from ledger.models import Gauge
from tests.ledger.shared_uncertainty import kept_gauge

from .tiny_month import PLANT, write_folder

pytestmark = pytest.mark.django_db

MEASURING = {
    "instruments": (
        "instrument,measures,unit,resolution,standard_uncertainty,reference_celsius,works_by,density_basis,"
        "glass_per_celsius\n"
        "DIP,dip,mm,1,0.85,,,,\n"
        "ALC,strength,percent_vol,0.1,0.06,20,floating,,0.000025\n"
        "DM,strength,kg/m3,0.01,0.05,20,oscillation,air,\n"
    ),
    "instruments_in_use": "instrument,from_day,vessel\nALC,2027-01-01,\n",
    "certificates": (
        "instrument,certificate,issuer,issued_on,from_day,standard_uncertainty,reading,correction\n"
        "ALC,HM-1,an invented laboratory,2027-01-10,,0.08,0,0.0\n"
        "ALC,HM-1,an invented laboratory,2027-01-10,,0.08,100,-0.1\n"
    ),
    "calibration_uncertainty": (
        "vessel,from_day,standard_percent,source,calibration_celsius,expansion_per_celsius\n"
        "V1,2026-05-01,0.17,certificate of the vat,,\n"
    ),
    "obscuration": (
        "vessel,from_at,percent,standard_uncertainty,determined_on,source\n"
        "X1,2027-02-01T09:00,0.4,0.05,2027-02-01,sample distilled\n"
    ),
}


def with_tables(folder: Path, **changed: str) -> Path:
    write_folder(folder)
    for name, text in (MEASURING | changed).items():
        (folder / "plant" / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def test_all_of_it_is_loaded_in_the_hand_of_who_loads_and_passed_over_the_second_time(tmp_path: Path) -> None:
    loaded = load_folder(with_tables(tmp_path))
    assert {what: loaded.plant[what] for what in ("certificates", "obscuration", "instruments in use")} == {
        "certificates": 1,
        "obscuration": 1,
        "instruments in use": 1,
    }
    assert Certificate.objects.get().points.count() == 2
    assert ObscurationFound.objects.get().person.username == "log"
    assert VesselCalibration.objects.get().share_millionths == 1700
    assert InstrumentUse.objects.get().instrument.code == "ALC"
    meter = Instrument.objects.get(code="DM")
    assert (meter.works_by, meter.density_basis) == ("oscillation", "air")
    again = load_folder(tmp_path)
    assert not again.plant
    assert Certificate.objects.count() == ObscurationFound.objects.count() == 1


def test_a_gauge_of_the_log_goes_through_certificate_and_calibration(tmp_path: Path) -> None:
    """V1 holds a litre a millimetre at 20 °C and shows 63.5: the certificate's -0.0635 leaves 63.4365 % of 1,000 L,
    and 0.17 % of the volume adds its part to the uncertainty by squares; worked by hand."""
    load_folder(with_tables(tmp_path))
    gauge = Gauge.objects.get(movement__record_kind="opening_stock", account__code="vessel:V1")
    assert gauge.pure_ul == pytest.approx(634_365_000, abs=300)
    # Dip 0.85 L of 63.4 %, hydrometer √(0.06² + 0.08²) of 10 LPA a % vol, calibration 0.17 % of 634 LPA; thermometer
    # 0.08 °C of about 0.39 % vol a °C and 0.09 % of volume: sensitivities from OIML R 22:1975, worked outside.
    parts = {row.instrument: row for row in kept_gauge(gauge.chain, record="OS").readings}
    assert parts["ALC"].lasting == pytest.approx(0.64)
    assert parts["calibration of V1"].lasting == 1.0
    assert parts["calibration of V1"].u * parts["calibration of V1"].lpa == pytest.approx(0.0017 * 634.365, rel=1e-6)
    by_squares = sum((one.u * one.lpa) ** 2 for one in parts.values()) ** 0.5
    assert gauge.uncertainty_ul == pytest.approx(by_squares * 1e6, rel=1e-6)


def test_without_these_tables_a_month_loads_as_it_always_did(tmp_path: Path) -> None:
    load_folder(write_folder(tmp_path))
    assert not Certificate.objects.exists()
    gauge = Gauge.objects.get(movement__record_kind="opening_stock", account__code="vessel:V1")
    assert gauge.pure_ul == 635_000_000


@pytest.mark.parametrize(
    ("table", "old", "new", "row", "column", "says"),
    [
        ("certificates", "ALC,HM-1", "ALB,HM-1", 2, "instrument", "There is no instrument ALB"),
        ("certificates", "100,-0.1", "0,-0.1", 2, "reading", "must rise"),
        ("certificates", "2027-01-10,,0.08,0,", "10 Jan,,0.08,0,", 2, "issued_on", "write it as 2027-03-04"),
        ("certificates", ",0,0.0", ",0,", 2, "correction", "missing"),
        ("certificates", "0.08,0,", "-1,0,", 2, "standard_uncertainty", "cannot be below 0"),
        ("calibration_uncertainty", "V1,", "V9,", 2, "vessel", "There is no vessel V9"),
        ("calibration_uncertainty", "0.17", "17", 2, "standard_percent", "cannot be above 10"),
        ("obscuration", ",0.4,", ",40,", 2, "percent", "cannot be above 20"),
        ("obscuration", "X1,", "X9,", 2, "vessel", "There is no vessel X9"),
        ("instruments_in_use", "ALC,", "ALB,", 2, "instrument", "There is no instrument ALB"),
        ("instruments", ",oscillation,", ",humming,", 4, "works_by", "is one of"),
    ],
)
def test_a_bad_row_is_told_with_file_row_column_and_what_to_do(
    tmp_path: Path, table: str, old: str, new: str, row: int, column: str, says: str
) -> None:
    folder = with_tables(tmp_path, **{table: MEASURING[table].replace(old, new, 1)})
    with pytest.raises(BadRows) as refused:
        load_folder(folder)
    told = [(bad.file, bad.row, bad.column) for bad in refused.value.bad]
    assert (f"plant/{table}.csv", row, column) in told
    assert any(says in bad.reason for bad in refused.value.bad)
    assert not Certificate.objects.exists()


@pytest.mark.parametrize(
    ("table", "old", "new", "column"),
    [
        ("certificates", "100,-0.1", "100,-0.2", "certificate"),
        ("calibration_uncertainty", "0.17", "0.27", "standard_percent"),
        ("obscuration", ",0.4,", ",0.5,", "percent"),
    ],
)
def test_other_figures_than_the_sites_change_nothing(
    tmp_path: Path, table: str, old: str, new: str, column: str
) -> None:
    load_folder(with_tables(tmp_path))
    (tmp_path / "plant" / f"{table}.csv").write_text(MEASURING[table].replace(old, new), encoding="utf-8")
    with pytest.raises(BadRows) as refused:
        load_folder(tmp_path)
    assert [(bad.file, bad.column) for bad in refused.value.bad] == [(f"plant/{table}.csv", column)]
    assert "on the page Instruments" in refused.value.bad[0].reason


def test_an_instrument_that_does_not_say_air_or_vacuum_refuses_the_gauge_by_name(tmp_path: Path) -> None:
    folder = with_tables(
        tmp_path,
        instruments=PLANT["instruments"].replace("percent_vol,0.1,0.06,20", "kg/m3,0.1,0.06,20"),
        certificates=MEASURING["certificates"].splitlines()[0] + "\n",
    )
    with pytest.raises(BadRows) as refused:
        load_folder(folder)
    assert any("in air or in vacuum" in bad.reason for bad in refused.value.bad)
