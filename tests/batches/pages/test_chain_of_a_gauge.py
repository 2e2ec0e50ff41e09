"""The way from reading to alcohol on a record's page: corrections, obscuration, source and part of each instrument.
The site is invented."""

from __future__ import annotations

import html
import re
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from small_site import fill, opening, small_site

from batches.records import recording
from batches.sheets.typed.read_sheet import Unfit
from distillery.plant import keeping
from distillery.plant.models import Instrument, Vessel
from ledger.models import Gauge

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(staff):
    small_site()
    for code, measures, u, celsius in (("ALC7", "strength", 60_000, 20_000), ("TH3", "temperature", 80_000, None)):
        Instrument.objects.create(
            code=code,
            measures=measures,
            unit="percent_vol" if celsius else "celsius",
            resolution_millionths=100_000,
            standard_uncertainty_millionths=u,
            reference_millicelsius=celsius,
        )
    return staff


def text_of(page) -> str:
    plain = re.sub(r"<[^>]+>", " ", html.unescape(page.content.decode()))
    return re.sub(r"\s+", " ", plain)


def certify(day: date = date(2027, 1, 1)) -> None:
    keeping.add_certificate(
        instrument=Instrument.objects.get(code="ALC7"),
        number="HM-9",
        issuer="an invented laboratory",
        issued_on=day,
        from_day=day,
        points=[(Decimal(0), Decimal("-0.1")), (Decimal(100), Decimal("-0.1"))],
        standard_uncertainty=Decimal("0.03"),
        person=None,
    )


def test_each_correction_stands_with_its_source_and_each_instrument_with_its_part(site, browser_of):
    certify()
    keeping.add_obscuration(
        vessel=Vessel.objects.get(code="V1"),
        from_at=datetime(2027, 2, 1, tzinfo=UTC),
        percent=Decimal("0.4"),
        standard_uncertainty=Decimal("0.05"),
        determined_on=date(2027, 1, 31),
        source="sample distilled by hand",
        person=site,
    )
    record = opening(site)
    gauge = Gauge.objects.get()
    # 63.5 - 0.1 + 0.4 at 20 °C, where a 20 °C hydrometer shows the strength itself: by hand.
    assert gauge.percent20_millionths == pytest.approx(63_800_000, abs=2)
    shown = text_of(browser_of(site).get(f"/records/opening_stock/{record.number}/"))
    for words in (
        "Hydrometer reading, corrected 63.40 % vol 63.5 − 0.1, linear between its points certificate HM-9",
        "Apparent strength 63.40 % vol",
        "Obscuration 0.40 % vol true − apparent sample distilled by hand",
        "True strength 63.80 % vol",
        "OIML R 22:1975",
        "Hydrometer ALC7 63.50 % vol",
        "Temperature TH3 20.0 °C",
        "obscuration of V1, 2027-01-31",
        "what was posted stands",
    ):
        assert (words in shown) == (words != "what was posted stands"), words


def test_a_certificate_entered_afterwards_changes_no_posted_gauge_and_the_page_says_so(site, browser_of):
    record = opening(site)
    posted = Gauge.objects.get().pure_ul
    certify()
    shown = text_of(browser_of(site).get(f"/records/opening_stock/{record.number}/"))
    assert "what was posted stands" in shown
    assert Gauge.objects.get().pure_ul == posted


def test_a_certificate_of_a_later_day_says_nothing_of_an_earlier_gauge(site, browser_of):
    record = opening(site)
    certify(date(2027, 5, 1))
    shown = text_of(browser_of(site).get(f"/records/opening_stock/{record.number}/"))
    assert "what was posted stands" not in shown
    assert "True strength 63.50 % vol" in shown


def test_a_cask_by_weight_has_its_chain_too(site, browser_of):
    opening(site)
    record = fill(site)
    page = browser_of(site).get(f"/records/cask_fill/{record.number}/")
    shown = text_of(page)
    assert re.search(r"How each gauge was worked out \(\d+\)", shown)
    assert "Net weight in air 179.1 kg gross − tare OIML D 28" in shown
    assert "Gross weight scale 229.1 kg" in shown


def test_a_proof_hydrometer_is_read_in_proof_and_its_page_says_so(site, browser_of):
    """27 CFR 30.61: glass that shows 193 proof at 75 °F floats in spirit of 189.5 proof, which is 94.76 % vol at 20 °C
    (OIML R 22:1975, computed outside the program; the published table and the formula agree to 0.06 proof)."""
    proof = Instrument.objects.create(
        code="PRF",
        measures="strength",
        unit="us_proof",
        resolution_millionths=100_000,
        standard_uncertainty_millionths=60_000,
        reference_millicelsius=15_556,
    )
    keeping.take_into_use(
        instrument=proof, from_day=date(2027, 1, 1), vessel=Vessel.objects.get(code="V1"), person=site
    )
    values = {"vessel": "V1", "at": "2027-03-01 06:00", "gauge_dip_mm": "1000", "gauge_celsius": "75 °F"}
    with pytest.raises(Unfit, match="graduated in US proof"):
        recording.save("opening_stock", None, values | {"gauge_hydrometer_percent": "95.0"}, person=site)
    record = recording.save("opening_stock", None, values | {"gauge_hydrometer_percent": "193 proof"}, person=site)
    assert Gauge.objects.get().percent20_millionths / 1e6 == pytest.approx(94.76, abs=0.03)
    shown = text_of(browser_of(site).get(f"/records/opening_stock/{record.number}/"))
    assert "193 proof" in shown
    assert "75 °F (23.888889 °C)" in shown
    assert "Hydrometer PRF 193.0 US proof" in shown
