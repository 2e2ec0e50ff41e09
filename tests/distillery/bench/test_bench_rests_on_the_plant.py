"""The bench takes certificates, calibrations and obscurations where the records take them. The plant is invented."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from distillery.plant import keeping
from distillery.plant.models import Instrument, Vessel
from tests.distillery.bench.bench_plant import expanded, facts, make_plant, value

pytestmark = pytest.mark.django_db

DAY = date(2026, 1, 1)
GAUGE = {"vessel": "SR1", "dip_mm": "1000", "celsius": "14", "hydrometer_percent": "61", "instrument": "ALC"}
CASK = {"cask": "HW-0001", "gross_kg": "248.2", "celsius": "15", "hydrometer_percent": "63.5", "instrument": "ALC"}


@pytest.fixture(autouse=True)
def _plant() -> None:
    make_plant()


def certify(code: str, correction: str, u: str | None = None) -> None:
    keeping.add_certificate(
        instrument=Instrument.objects.get(code=code),
        number=f"C-{code}",
        issuer="an invented laboratory",
        issued_on=DAY,
        from_day=DAY,
        points=[(Decimal(0), Decimal(correction)), (Decimal(1100), Decimal(correction))],
        standard_uncertainty=None if u is None else Decimal(u),
        person=None,
    )


def hide(percent: str, u: str = "0.05") -> None:
    keeping.add_obscuration(
        vessel=Vessel.objects.get(code="SR1"),
        from_at=datetime(2026, 1, 1, tzinfo=UTC),
        percent=Decimal(percent),
        standard_uncertainty=Decimal(u),
        determined_on=DAY,
        source="sample distilled",
        person=None,
    )


def meter(**more: object) -> None:
    Instrument.objects.create(
        code="DM",
        measures="strength",
        unit="kg/m3",
        works_by="oscillation",
        resolution_millionths=10_000,
        standard_uncertainty_millionths=100_000,
        **({"reference_millicelsius": 20_000} | more),
    )


def test_a_gauge_takes_certificates_and_says_so(stranger):
    """By hand: 61.0 + 0.2 and 14.0 - 0.1 are what 61.2 at 13.9 gives without a certificate."""
    by_hand = facts(stranger.get("/bench/gauge/", GAUGE | {"hydrometer_percent": "61.2", "celsius": "13.9"}))
    certify("ALC", "0.2")
    certify("THERM", "-0.1")
    page = stranger.get("/bench/gauge/", GAUGE)
    assert facts(page)["Pure alcohol"].split("±")[0] == by_hand["Pure alcohol"].split("±")[0]
    assert "certificate C-ALC, an invented laboratory" in page.content.decode()


def test_the_certificates_and_the_tables_uncertainty_are_in_the_plus_minus(stranger):
    """0.06 and 0.08 % vol by squares at 24.649 LPA a % vol, and 0.17 % of 1572.17 LPA: sensitivities of the worked
    tank, JCGM 100:2008, 5.1.2."""
    certify("ALC", "0", "0.08")
    keeping.add_calibration(
        vessel=Vessel.objects.get(code="SR1"),
        from_day=DAY,
        standard_percent=Decimal("0.17"),
        source="its certificate",
        person=None,
    )
    page = stranger.get("/bench/gauge/", GAUGE)
    parts = (0.85 * 2.48 * 0.63394, 0.08 * 9.843, 0.1 * 24.649, 0.0017 * 1572.17)
    assert expanded(facts(page)["Pure alcohol"]) == pytest.approx(2 * sum(part**2 for part in parts) ** 0.5, abs=0.01)
    # Volume: dip 0.85 mm of 2.48 L and 0.17 % of 2480 L, before its own temperature.
    assert expanded(facts(page)["Volume by dip, as it stands"]) == pytest.approx(2 * 4.7143, abs=0.06)
    assert "its certificate" in page.content.decode()


def test_without_a_calibration_on_record_the_page_says_what_is_left_out(stranger):
    assert "stands on no record" in stranger.get("/bench/gauge/", GAUGE).content.decode()


def test_obscuration_on_record_is_added_and_one_typed_takes_its_place(stranger):
    clear = value(facts(stranger.get("/bench/gauge/", GAUGE))["True strength at 20 °C"])
    hide("0.6")
    page = stranger.get("/bench/gauge/", GAUGE)
    assert value(facts(page)["True strength at 20 °C"]) == pytest.approx(clear + 0.6, abs=1e-9)
    assert "A transfer out of this vessel" in page.content.decode()
    typed = stranger.get("/bench/gauge/", GAUGE | {"obscuration_percent": "1.5"})
    assert value(facts(typed)["True strength at 20 °C"]) == pytest.approx(clear + 1.5, abs=1e-9)
    none = stranger.get("/bench/gauge/", GAUGE | {"obscuration_percent": "0"})
    assert value(facts(none)["True strength at 20 °C"]) == clear


@pytest.mark.parametrize(
    "other", [{"instrument": "15"}, {"obscuration_percent": "1"}], ids=["another instrument", "typed obscuration"]
)
@pytest.mark.parametrize(("sum_", "asked", "carried"), [("gauge", GAUGE, "A transfer"), ("cask", CASK, "A regauge")])
def test_what_a_record_would_correct_otherwise_is_not_carried_on(stranger, sum_, asked, carried, other):
    assert carried in stranger.get(f"/bench/{sum_}/", asked).content.decode()
    page = stranger.get(f"/bench/{sum_}/", asked | other).content.decode()
    assert carried not in page
    assert "not carried on" in page


@pytest.mark.parametrize("path", ["gauge", "cask", "reading", "density"])
def test_an_obscuration_that_cannot_be_stands_beside_its_box(stranger, path):
    asked = {
        "gauge": GAUGE,
        "cask": CASK,
        "reading": {"hydrometer_percent": "61", "celsius": "14", "instrument": "20"},
        "density": {"density": "901.15", "basis": "vacuum", "celsius": "20"},
    }[path]
    page = stranger.get(f"/bench/{path}/", asked | {"obscuration_percent": "45"}).content.decode()
    assert 'href="#id_obscuration_percent"' in page


@pytest.mark.parametrize(("basis", "density"), [("vacuum", "901.154"), ("air", "900.089")])
def test_a_meter_on_record_needs_no_asking(stranger, basis, density):
    """63.5 % vol: 901.154 kg/m³ in vacuum, 900.089 in air at 20 °C (OIML R 22:1975, OIML D 28); slope 0.43 % vol for
    each kg/m³ from the same outside computation, so 0.1 kg/m³ is ± 0.086 for two standard uncertainties."""
    meter(density_basis=basis)
    shown = facts(stranger.get("/bench/density/", {"density": density, "meter": "DM", "celsius": "20"}))
    assert value(shown["True strength at 20 °C"]) == 63.5
    assert expanded(shown["True strength at 20 °C"]) == pytest.approx(0.09, abs=0.005)


@pytest.mark.parametrize(
    ("more", "asked", "box", "says"),
    [
        ({"density_basis": ""}, {}, "meter", "in air or in vacuum"),
        ({"density_basis": "air", "reference_millicelsius": None}, {}, "meter", "cell"),
        ({"density_basis": "air"}, {"basis": "vacuum"}, "basis", "on record as showing density in air"),
        ({"density_basis": "air"}, {"meter": "", "basis": ""}, "basis", "its manual tells"),
    ],
)
def test_a_meter_must_say_what_it_shows(stranger, more, asked, box, says):
    meter(**more)
    asked = {"density": "900.1", "meter": "DM", "celsius": "20"} | asked
    page = stranger.get("/bench/density/", asked).content.decode()
    assert f'href="#id_{box}"' in page
    assert says in page


def test_a_density_meter_is_not_offered_as_a_hydrometer(stranger):
    meter(density_basis="air")
    page = stranger.get("/bench/reading/").content.decode()
    assert 'value="DM"' not in page
    assert 'value="ALC"' in page


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"hydrometer_percent": "50", "celsius": "-5"}, "freezes to slush"),
        ({"hydrometer_percent": "1.0", "celsius": "20"}, "so weak"),
    ],
)
def test_where_a_hydrometer_is_no_good_the_result_carries_a_caution(stranger, asked, says):
    assert says in stranger.get("/bench/reading/", asked | {"instrument": "20"}).content.decode()
    fair = {"hydrometer_percent": "50", "celsius": "20", "instrument": "20"}
    assert says not in stranger.get("/bench/reading/", fair).content.decode()


def test_the_pinned_table_holds_the_certificate_of_its_instrument(stranger):
    from io import BytesIO

    from pypdf import PdfReader

    table = {"low": "60", "high": "61", "step": "0.5", "coldest": "20", "warmest": "20", "celsius_step": "1"}
    certify("ALC", "0.2")
    printed = stranger.get("/bench/tables/strength.pdf", table | {"instrument": "ALC"})
    words = PdfReader(BytesIO(printed.content)).pages[0].extract_text()
    assert "60.20" in words
    assert "look up the reading as shown" in words
