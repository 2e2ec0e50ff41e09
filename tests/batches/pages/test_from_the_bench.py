"""A gauge worked out at the bench is carried into the open sheet that waits for it, with one press. Invented site."""

from __future__ import annotations

import html
import re
from datetime import date

import pytest
from small_site import charged_run, small_site

from distillery.plant import keeping
from distillery.plant.models import Instrument, Vessel

pytestmark = pytest.mark.django_db
READ = {"dip_mm": "500", "celsius": "18.5", "hydrometer_percent": "68.2"}


@pytest.fixture
def site(staff):
    small_site()
    return staff


def in_use_at(vessel: str, person) -> str:
    """The code of a hydrometer that records of that vessel are corrected with."""
    glass = Instrument.objects.create(
        code="HY7",
        measures="strength",
        unit="percent_vol",
        resolution_millionths=100_000,
        standard_uncertainty_millionths=60_000,
        reference_millicelsius=20_000,
    )
    keeping.take_into_use(
        instrument=glass, from_day=date(2027, 1, 1), vessel=Vessel.objects.get(code=vessel), person=person
    )
    return glass.code


def ways(page: str) -> dict[str, str]:
    found = re.findall(r'<a class="button" href="([^"]+)">Carry it to ([^<]+)</a>', page)
    return {text: html.unescape(href) for href, text in found}


def test_an_open_run_waits_for_the_gauge_after_it(site, browser_of, officer, stranger):
    record = charged_run(site)
    receiver = record.versions.latest("serial").values
    code = re.search(r'"spirit_receiver":"([^"]+)"', receiver)
    assert code is not None
    here = browser_of(site)
    asked = {"vessel": code[1], "instrument": in_use_at(code[1], site), **READ}
    page = here.get("/bench/gauge/", asked)
    way = ways(page.content.decode())
    assert list(way) == [f"Spirit receiver after, {record.number}"]
    form = here.get(way[f"Spirit receiver after, {record.number}"]).content.decode()
    for part, value in READ.items():
        assert re.search(rf'name="spirit_after_{part}"[^>]*value="{value}"', form)
    # What was carried is looked at first, not the first empty box of the sheet.
    assert re.search(r'name="spirit_after_dip_mm"[^>]*autofocus', form)
    assert form.count("autofocus") == 1
    assert record.versions.count() == 1
    assert ways(browser_of(officer).get("/bench/gauge/", asked).content.decode()) == {}
    assert ways(stranger.get("/bench/gauge/", asked).content.decode()) == {}


def test_the_bench_opens_on_the_sum_that_is_asked_most(site, stranger):
    page = stranger.get("/bench/").content.decode()
    assert 'action="/bench/reading/#result"' in page
    assert 'name="hydrometer_percent"' in page
    assert page.count("/bench/reduce/") == 1
