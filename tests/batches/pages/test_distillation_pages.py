"""Pages of distillation periods, and the pictures of runs, on the sample month and on the small plant."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from batches.distilling.periods import all_periods
from batches.distilling.yields import Yield
from batches.loading.load_folder import load_folder
from batches.models import Record
from batches.records import recording
from batches.sheets.site import Site
from distillery.printing.digest import digest_of
from ledger.proof.checking import Asked, check
from tests.batches.tiny_month import write_folder
from tests.distillery.printing.printed_samples import lines_of

OPENED = {
    "spirit_class": "malt spirit",
    "opened_at": "2027-03-01T06:30",
    "feints_receiver": "FR",
    "feints_open_dip_mm": "507",
    "feints_open_celsius": "17",
    "feints_open_hydrometer_percent": "34.9",
}
ENDED = {
    "ended_at": "2027-03-31T06:00",
    "feints_close_dip_mm": "513",
    "feints_close_celsius": "19.2",
    "feints_close_hydrometer_percent": "35.7",
}
TABLE = """\
period,spirit_class,opened_at,feints_receiver,feints_open_dip_mm,feints_open_celsius,feints_open_hydrometer_percent,\
ended_at,feints_close_dip_mm,feints_close_celsius,feints_close_hydrometer_percent
DP0001,malt spirit,2027-03-02T06:00,F1,500,20,36,2027-03-05T06:00,560,20,36
"""


@pytest.fixture
def period(loaded_month, staff) -> Record:
    return recording.save("distillation_period", None, OPENED | ENDED, person=staff, sure=True)


def test_before_the_first_period(loaded_month, staff, browser_of):
    page = browser_of(staff).get("/distilling/").content.decode()
    assert "No distillation period yet." in page
    assert 'href="/records/distillation_period/new/"' in page


def test_an_officer_reads_and_writes_nothing(loaded_month, officer, browser_of):
    assert "Open a distillation period" not in browser_of(officer).get("/distilling/").content.decode()


def test_a_period_as_page_list_data_and_paper(period, staff, browser_of):
    here = browser_of(staff)
    page = here.get(f"/distilling/{period.number}/").content.decode()
    assert page.count('<svg xmlns="http://www.w3.org/2000/svg" class="chart"') == 2
    assert "Malt promised" in page
    assert "WR0020" in page
    saved = b"".join(here.get("/distilling/?as=csv").streaming_content).decode("utf-8-sig")
    rows = list(csv.DictReader(saved.splitlines()))
    data = here.get(f"/distilling/{period.number}/period.json").json()
    found = Yield(all_periods()[0], Site())
    assert len(data["runs"]) == len(found.runs) == 40
    assert len(data["mashes"]) == 20
    assert data["yield_lpa_per_tonne"] == pytest.approx(found.lpa_per_tonne)
    assert float(rows[0]["Spirit made LPA"]) == pytest.approx(float(data["spirit_made_lpa"]), abs=0.005)
    # Twenty mashes of 2,000 kg, all charged but for what the dips of a washback stray by.
    assert data["malt_kg"] == pytest.approx(40_000, rel=0.001)
    paper = lines_of(here.get(f"/distilling/{period.number}/period.pdf").content)
    assert any("Wash beside what the malt promised, by mash" in line for line in paper)
    assert any(f"{found.lpa_per_tonne:.1f} ±" in line for line in paper)


def here_as_data(here, period):
    return here.get(f"/distilling/{period.number}/period.json").json()


def test_its_printed_page_is_known_again(period, staff, browser_of):
    digest = digest_of(here_as_data(browser_of(staff), period))
    paper = lines_of(browser_of(staff).get(f"/distilling/{period.number}/period.pdf").content)
    assert any(digest[:4] in line and digest[4:8] in line for line in paper)
    found = check(Asked(digest, period.number))
    assert [(one.title, one.agrees) for one in found] == [(f"Distillation period {period.number}", True)]


def test_a_period_that_is_open_says_what_stands_in_the_way(loaded_month, staff, browser_of):
    record = recording.save("distillation_period", None, OPENED, person=staff, sure=True)
    page = browser_of(staff).get(f"/distilling/{record.number}/").content.decode()
    assert "Nothing stands in the way of its end" in page
    assert "not judged before the period ends" in page
    assert browser_of(staff).get("/distilling/DP0999/").status_code == 404


def test_strength_against_litres_stands_over_the_last_runs_like_it(loaded_month, staff, browser_of):
    page = browser_of(staff).get("/records/spirit_run/SR0020/").content.decode()
    assert "Strength against litres run off" in page
    assert "Median of the last 19" in page
    assert "10 to 90 % of them" in page
    assert "estimated from what each receiver took" in page
    # The first run has nothing before it to be compared with.
    assert "Median of the last" not in browser_of(staff).get("/records/spirit_run/SR0001/").content.decode()


def test_a_period_is_loaded_from_a_table(db, tmp_path: Path):
    load_folder(write_folder(tmp_path, distillation_periods=TABLE))
    found = Yield(all_periods()[0], Site())
    # 280 L at 70 %; feints from 500 to 560 L at 36 %, low wines from 200 to 40 L at 24 %, of 500 kg.
    assert found.made_ul / 1e6 == pytest.approx(196.0, abs=1e-3)
    assert (found.feints_close_ul - found.feints_open_ul) / 1e6 == pytest.approx(21.6 - 38.4, abs=1e-3)
    assert found.lpa_per_tonne == pytest.approx((196.0 - 16.8) / 0.5, abs=0.01)
