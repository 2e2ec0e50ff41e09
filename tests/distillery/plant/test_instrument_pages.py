"""The page of the instruments: who may read and who may enter, what a slip of the pen gets, paper."""

from __future__ import annotations

import re
from io import BytesIO

import pytest
from django.urls import reverse
from pypdf import PdfReader

from distillery.plant.metrology import Certificate, InstrumentUse, ObscurationFound, VesselCalibration
from distillery.plant.models import Instrument, Vessel
from tests.distillery.plant.measured_plant import instrument, tank

pytestmark = pytest.mark.django_db

CERTIFICATE = {
    "instrument": "ALC",
    "number": "HM-77",
    "issuer": "an invented laboratory",
    "issued_on": "2027-03-01",
    "points": "60.0 −0.05\n65.0\t+0.10\n\n70;0.2",
    "expanded_uncertainty": "0.04",
    "coverage_factor": "2",
}
OBSCURATION = {
    "vessel": "SV1",
    "from_at": "2027-03-04 14:30",
    "percent": "0.6",
    "standard_uncertainty": "0.05",
    "determined_on": "2026-03-03",
    "source": "distilled at the bench",
}
ENTRIES = {
    "instrument_new": {
        "code": "ALC2",
        "measures": "strength",
        "unit": "percent_vol",
        "works_by": "floating",
        "resolution": "0.1",
        "standard_uncertainty": "0.06",
        "reference_celsius": "20",
    },
    "instrument_use": {"instrument": "ALC", "from_day": "2027-03-01"},
    "instrument_certificate": CERTIFICATE,
    "vessel_calibration": {"vessel": "SV1", "from_day": "2027-03-01", "limit_percent": "0.3", "source": "rule"},
    "obscuration_new": OBSCURATION,
}
MODELS = {
    "instrument_new": Instrument,
    "instrument_use": InstrumentUse,
    "instrument_certificate": Certificate,
    "vessel_calibration": VesselCalibration,
    "obscuration_new": ObscurationFound,
}


@pytest.fixture
def _site() -> None:
    tank()
    instrument("ALC", "strength", 0.06, 20.0, unit="percent_vol")


def test_an_empty_site_says_what_to_do(browser_of, manager):
    page = browser_of(manager).get(reverse("instruments")).content.decode()
    assert "Add the first" in page
    assert "No certificates: readings are taken as shown" in page
    assert reverse("instrument_certificate") in page


@pytest.mark.usefixtures("_site")
def test_all_may_read_and_only_some_may_enter(browser_of, manager, staff, officer, stranger):
    page = reverse("instruments")
    assert stranger.get(page).status_code == 302
    allowed = {
        person: {
            name
            for name in ENTRIES
            if browser_of(person).get(reverse(name)).status_code == 200
            and reverse(name) in browser_of(person).get(page).content.decode()
        }
        for person in (manager, staff, officer)
    }
    assert allowed == {manager: set(ENTRIES), staff: {"obscuration_new"}, officer: set()}
    refused = browser_of(staff).post(reverse("instrument_certificate"), CERTIFICATE)
    assert refused.status_code == 403
    assert not Certificate.objects.exists()


@pytest.mark.usefixtures("_site")
@pytest.mark.parametrize("name", ENTRIES)
def test_each_form_enters_one_thing_with_the_name_of_who_did(browser_of, manager, name):
    browser = browser_of(manager)
    blank = browser.get(reverse(name)).content.decode()
    assert blank.count("autofocus") == 1
    before = MODELS[name].objects.count()
    page = browser.post(reverse(name), ENTRIES[name], follow=True)
    assert page.redirect_chain == [(reverse("instruments"), 302)]
    assert MODELS[name].objects.count() == before + 1
    text = page.content.decode()
    assert 'role="status"' in text
    if name != "instrument_new":
        assert MODELS[name].objects.last().person == manager
        assert "test-manager" in text


@pytest.mark.usefixtures("_site")
def test_a_certificate_as_typed_is_shown_as_kept(browser_of, manager):
    """± 0.04 with k = 2 is a standard uncertainty of 0.02 (JCGM 100:2008, 4.3.3)."""
    page = browser_of(manager).post(reverse("instrument_certificate"), CERTIFICATE, follow=True).content.decode()
    assert "60 −0.05, 65 +0.1, 70 +0.2" in page
    certificate = Certificate.objects.get()
    assert (certificate.from_day, certificate.standard_uncertainty) == (certificate.issued_on, 0.02)


@pytest.mark.usefixtures("_site")
def test_a_limit_of_error_counts_as_rectangular(browser_of, manager):
    """0.3 % over √3 is 0.1732 % (JCGM 100:2008, 4.3.7)."""
    browser_of(manager).post(reverse("vessel_calibration"), ENTRIES["vessel_calibration"])
    assert VesselCalibration.objects.get().share_millionths == 1732


@pytest.mark.usefixtures("_site")
def test_a_distilled_sample_gives_the_obscuration_and_its_method(browser_of, staff):
    """Regulation (EC) 2870/2000, Annex I: distillate made up to volume, 40.3 less 39.8 apparent."""
    typed = OBSCURATION | {"percent": "", "apparent_percent": "39.8", "distilled_percent": "40.3", "source": ""}
    page = browser_of(staff).post(reverse("obscuration_new"), typed, follow=True).content.decode()
    found = ObscurationFound.objects.get()
    assert (found.percent_millionths, found.person) == (500_000, staff)
    assert "2870/2000" in found.source
    assert "+0.5" in page


@pytest.mark.usefixtures("_site")
def test_a_cask_is_named_by_its_number(browser_of, staff):
    cask = Vessel.objects.create(code="C-17/2020", name="Cask", kind="cask", stage="maturing in cask")
    browser_of(staff).post(reverse("obscuration_new"), OBSCURATION | {"vessel": "", "cask": "c-17/2020"})
    assert ObscurationFound.objects.get().vessel == cask


@pytest.mark.usefixtures("_site")
@pytest.mark.parametrize(
    ("name", "slip", "box", "says"),
    [
        ("instrument_certificate", {"points": "60 0.1 0.2"}, "points", "two figures"),
        ("instrument_certificate", {"points": "60 0.1\n50 0.1"}, "points", "must rise"),
        ("instrument_certificate", {"issued_on": "last week"}, "issued_on", "2027-03-04"),
        ("instrument_certificate", {"from_day": "2027-02-01"}, "from_day", "before the day"),
        ("instrument_certificate", {"coverage_factor": "-2"}, "coverage_factor", "k = 2"),
        ("vessel_calibration", {"standard_percent": "0.2"}, "limit_percent", "not both"),
        ("vessel_calibration", {"limit_percent": "-1"}, "limit_percent", "sign"),
        ("obscuration_new", {"percent": ""}, "percent", "both strengths"),
        ("obscuration_new", {"percent": "30"}, "percent", "not credible"),
        ("obscuration_new", {"vessel": ""}, "vessel", "number of the cask"),
        ("obscuration_new", {"cask": "C1"}, "vessel", "not both"),
        ("obscuration_new", {"vessel": "", "cask": "C9"}, "cask", "There is no cask C9"),
        ("obscuration_new", {"determined_on": "2999-01-01"}, "determined_on", "still to come"),
        ("obscuration_new", {"from_at": "noon"}, "from_at", "14:30"),
        ("obscuration_new", {"source": ""}, "source", "explained later"),
        ("instrument_new", {"reference_celsius": ""}, "reference_celsius", "read it off the instrument"),
        ("instrument_new", {"unit": "kg/m3"}, "density_basis", "in air or in vacuum"),
        ("instrument_new", {"resolution": "a tenth"}, "resolution", "digits with a point"),
        ("instrument_use", {"instrument": "ALC9"}, "instrument", "no such instrument"),
    ],
)
def test_a_slip_keeps_what_was_typed_and_stands_beside_its_box(browser_of, manager, name, slip, box, says):
    before = MODELS[name].objects.count()
    page = browser_of(manager).post(reverse(name), ENTRIES[name] | slip).content.decode()
    assert MODELS[name].objects.count() == before
    assert "<title>Error: " in page
    assert f'href="#id_{box}"' in page
    beside = re.search(rf'id="id_{box}_error">(.*?)</div>', page, re.DOTALL)
    assert beside
    assert says in beside[1]


@pytest.mark.usefixtures("_site")
def test_the_register_on_paper_says_what_the_page_says(browser_of, manager, officer):
    browser = browser_of(manager)
    for name, typed in ENTRIES.items():
        browser.post(reverse(name), typed)
    printed = browser_of(officer).get(reverse("instruments_pdf"))
    assert printed["Content-Type"] == "application/pdf"
    words = "\n".join(page.extract_text() for page in PdfReader(BytesIO(printed.content)).pages)
    for word in ("Register of instruments", "ALC2", "HM-77", "Obscurations", "distilled at the bench", "SV1"):
        assert word in words


@pytest.mark.usefixtures("_site")
def test_the_plant_leads_to_the_instruments(browser_of, officer):
    assert reverse("instruments") in browser_of(officer).get(reverse("plant")).content.decode()
