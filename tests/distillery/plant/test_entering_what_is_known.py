"""What cannot be entered about the measuring, and the sentence that says what to do."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from distillery.plant import keeping
from distillery.plant.keeping import Unkeepable
from distillery.plant.metrology import Certificate, CertificatePoint, ObscurationFound
from distillery.plant.models import Instrument
from tests.distillery.plant.measured_plant import instrument, tank

pytestmark = pytest.mark.django_db

DAY = date(2027, 3, 1)
GLASS = {
    "code": "ALC",
    "measures": "strength",
    "unit": "percent_vol",
    "resolution": Decimal("0.1"),
    "standard_uncertainty": Decimal("0.06"),
    "reference_celsius": Decimal(20),
}


@pytest.mark.parametrize(
    ("given", "field", "says"),
    [
        ({"reference_celsius": None}, "reference_celsius", "read it off the instrument"),
        ({"reference_celsius": Decimal(60)}, "reference_celsius", "not credible"),
        ({"unit": "kg/m3"}, "density_basis", "in air or in vacuum"),
        ({"unit": "percent_vol", "works_by": "oscillation"}, "unit", "kg/m3"),
        ({"unit": "degrees"}, "unit", "percent_vol"),
        ({"density_basis": "air"}, "density_basis", "leave this blank"),
        ({"standard_uncertainty": Decimal(0)}, "standard_uncertainty", "No reading is exact"),
        ({"measures": "colour"}, "measures", "one of"),
        ({"glass_per_celsius": Decimal(1)}, "glass_per_celsius", "0.000025"),
        ({"code": "  "}, "code", "cannot be explained later"),
        ({"resolution": Decimal(-1)}, "resolution", "decimal point"),
    ],
)
def test_an_instrument_that_says_too_little_is_not_added(given, field, says):
    with pytest.raises(Unkeepable, match=says) as refused:
        keeping.add_instrument(**(GLASS | given))
    assert refused.value.field == field
    assert not Instrument.objects.exists()


def test_a_code_is_used_once_in_small_and_capital_letters():
    keeping.add_instrument(**GLASS)
    with pytest.raises(Unkeepable, match="already"):
        keeping.add_instrument(**(GLASS | {"code": "alc"}))


@pytest.mark.parametrize(
    ("given", "field", "says"),
    [
        ({"from_day": date(2027, 2, 1)}, "from_day", "before the day it was issued"),
        ({"points": []}, "points", "corrections or an uncertainty"),
        ({"points": [(Decimal(60), Decimal(0))]}, "points", "ends of its range"),
        ({"points": [(Decimal(60), Decimal(0)), (Decimal(60), Decimal(1))]}, "points", "must rise"),
        ({"standard_uncertainty": Decimal(-1)}, "standard_uncertainty", "check the sign"),
        ({"number": ""}, "number", "cannot be explained later"),
        ({"points": [(Decimal(10**9), Decimal(0)), (Decimal(10**10), Decimal(0))]}, "points", "decimal point"),
    ],
)
def test_a_certificate_that_cannot_be_leaves_nothing_behind(given, field, says):
    alc = instrument("ALC", "strength", 0.06, 20.0)
    whole = {
        "instrument": alc,
        "number": "C1",
        "issuer": "an invented laboratory",
        "issued_on": DAY,
        "from_day": DAY,
        "points": [(Decimal(40), Decimal("0.1")), (Decimal(70), Decimal("-0.1"))],
        "person": None,
    }
    with pytest.raises(Unkeepable, match=says) as refused:
        keeping.add_certificate(**(whole | given))
    assert refused.value.field == field
    assert not Certificate.objects.exists()
    assert not CertificatePoint.objects.exists()
    keeping.add_certificate(**whole)
    with pytest.raises(Unkeepable, match="entered already"):
        keeping.add_certificate(**whole)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"percent": Decimal(25)}, "percent"),
        ({"standard_uncertainty": Decimal("-0.1")}, "standard_uncertainty"),
        ({"source": " "}, "source"),
    ],
)
def test_an_obscuration_that_cannot_be(given, field):
    whole = {
        "vessel": tank(),
        "from_at": datetime(2027, 3, 1, 9, tzinfo=ZoneInfo("UTC")),
        "percent": Decimal("-0.2"),
        "standard_uncertainty": Decimal("0.05"),
        "determined_on": DAY,
        "source": "sample distilled",
        "person": None,
    }
    with pytest.raises(Unkeepable) as refused:
        keeping.add_obscuration(**(whole | given))
    assert refused.value.field == field
    kept = keeping.add_obscuration(**whole)
    assert kept.percent_millionths == -200_000
    with pytest.raises(Unkeepable, match="entered already"):
        keeping.add_obscuration(**whole)
    assert ObscurationFound.objects.count() == 1


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"standard_percent": Decimal(11)}, "standard_percent"),
        ({"expansion_per_celsius": Decimal("0.00005")}, "calibration_celsius"),
        ({"calibration_celsius": Decimal(90)}, "calibration_celsius"),
        ({"calibration_celsius": Decimal(20), "expansion_per_celsius": Decimal(1)}, "expansion_per_celsius"),
    ],
)
def test_a_calibration_that_cannot_be(given, field):
    whole = {"vessel": tank(), "from_day": DAY, "standard_percent": Decimal("0.1"), "source": "x", "person": None}
    with pytest.raises(Unkeepable) as refused:
        keeping.add_calibration(**(whole | given))
    assert refused.value.field == field
