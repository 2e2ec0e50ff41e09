"""The pages of the register: filters, what lies where, one cask with its life, rows and keyholders, and their papers.

All names, places and figures are invented.
"""

from __future__ import annotations

from datetime import date
from io import BytesIO

import pytest
from django.urls import reverse
from pypdf import PdfReader

from batches.casks.life import alcohol_said, life_of
from batches.records import recording
from distillery.plant import keeping
from distillery.plant.models import Cask, Vessel
from tests.batches.pages.small_site import CASKS, FILL


def text_of(content: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(content)).pages)


def known(code: str) -> Cask:
    return Cask.objects.get(vessel__code=code)


@pytest.fixture
def lived(site):
    """C001 was filled in row 4, seen leaking, moved, sold; C002 was filled; C003 never was."""
    rows = [dict(line, warehouse="W1", row="4", tier="2") for line in CASKS]
    recording.save("cask_fill", None, FILL, rows, person=site, sure=True)
    for line in CASKS:
        keeping.note_cask(
            known(line["cask"]),
            wood="American oak, bourbon",
            owner="",
            head_number="",
            head_year=None,
            head_distillery="",
            first_warehoused_on=None,
            today=date(2027, 3, 12),
        )
    seen = {"cask": "C001", "seen": "leaking", "lost_litres": "3", "done": "hoop driven"}
    walk = {"at": "2027-03-09 09:00", "warehouse": "W1", "walked_by": "A. Marr"}
    recording.save("warehouse_round", None, walk, [seen], person=site, sure=True)
    to = {"cask": "C001", "to_warehouse": "W2", "to_row": "1", "to_tier": "1"}
    recording.save("cask_move", None, {"at": "2027-03-10 09:00", "why": "leaks"}, [to], person=site, sure=True)
    sold = {"at": "2027-03-11 09:00", "from_owner": "Harrowmere", "to_owner": "E. Tarn"}
    recording.save("cask_owner", None, sold, [{"cask": "C001"}], person=site, sure=True)
    return site


def test_the_register_is_filtered_by_what_stands_of_a_cask(lived, browser_of):
    here = browser_of(lived)
    for asked, there in (
        ({"warehouse": "W2"}, {"C001"}),
        ({"row": "4"}, {"C002"}),
        ({"row": "4", "tier": "3"}, set()),
        ({"owner": "E. Tarn"}, {"C001"}),
        ({"wood": "American oak, bourbon"}, {"C001", "C002"}),
        ({"year": "2027"}, {"C001", "C002"}),
        ({"year": "2026"}, set()),
        ({"age": "1"}, set()),
        ({"state": "empty"}, {"C003"}),
    ):
        page = here.get("/warehouse/", asked).content.decode().partition("<table")[2]
        assert {code for code in ("C001", "C002", "C003") if f"/casks/{code}/" in page} == there, asked
    assert "is no number of years" in here.get("/warehouse/", {"age": "old"}).content.decode()
    assert "W2, row 1, tier 1" in here.get("/warehouse/", {"sort": "place"}).content.decode()
    assert "E. Tarn" in here.get("/warehouse/", {"as": "csv"}).getvalue().decode()


def test_a_leak_is_said_on_the_cask_in_the_warehouse_and_on_this_shift_until_a_regauge(lived, browser_of):
    here = browser_of(lived)
    for address in ("/casks/C001/", "/warehouse/", "/"):
        page = here.get(address).content.decode()
        assert "seen leaking" in page.lower(), address
    regauge = {"cask": "C001", "at": "2027-03-12 09:00", "tare_kg": "50.0", "gross_kg": "226.0"}
    regauge |= {"celsius": "20.0", "hydrometer_percent": "63.4"}
    recording.save("regauge", None, regauge, person=lived, sure=True)
    assert "Asks for" not in here.get("/casks/C001/").content.decode().split("<table")[0]
    assert "to be regauged" not in here.get("/warehouse/").content.decode()


def test_the_life_of_a_cask_is_told_in_order_of_time(lived):
    told = life_of(Vessel.objects.get(code="C001"))
    assert [one.what for one in told] == ["Cask fill", "Round of a warehouse", "Move of casks", "Change of owner"]
    assert told[0].said == "to W1, row 4, tier 2"
    assert "LPA in" in alcohol_said(told[0])
    assert told[1].said == "seen leaking; lost, by estimate: 3 L; what was done: hoop driven"
    assert (told[2].said, alcohol_said(told[2])) == ("to W2, row 1, tier 1; why: leaks", "")
    assert told[3].said == "now E. Tarn's; owner before: Harrowmere"


def test_a_cask_on_paper_has_its_life_and_its_changes(lived, browser_of, manager):
    cask = known("C001")
    keeping.note_cask(
        cask,
        wood="European oak",
        owner="",
        head_number="17",
        head_year=2027,
        head_distillery="Harrowmere",
        first_warehoused_on=None,
        today=date(2027, 3, 12),
    )
    printed = text_of(browser_of(lived).get(reverse("cask_print", args=["C001"])).content)
    for said in ("Change of owner", "hoop driven", "17, 2027, Harrowmere", "American oak, bourbon to European oak"):
        assert said in printed
    assert known("C001").owner == "E. Tarn"


def test_what_lies_where_is_shown_by_row_and_printed_for_a_walk(lived, browser_of, manager):
    keeping.add_rows(warehouse="W1", rows=["4", "5"], tiers=3, person=manager)
    here = browser_of(lived)
    page = here.get(reverse("lying"), {"warehouse": "W1"}).content.decode()
    assert "tier 2: 1" in page
    assert "/casks/C002/" in page
    assert "/casks/C001/" not in page
    printed = text_of(here.get(reverse("lying_pdf"), {"warehouse": "W1"}).content)
    assert "Row 4" in printed
    assert "C002" in printed
    assert "risk assessment" in printed


def test_rows_keyholders_and_casks_are_entered_by_plant_keepers(site, browser_of, manager):
    here = browser_of(manager)
    here.post(reverse("rows_new"), {"warehouse": "W1", "rows": "1, 2", "tiers": "3"})
    key = {"warehouse": "W1", "name": "A. Marr", "key": "key 1", "from_day": "2027-01-01"}
    here.post(reverse("keyholder_new"), key)
    page = here.get(reverse("warehouses_kept")).content.decode()
    assert "A. Marr" in page
    assert "holds it" in page
    again = here.post(reverse("keyholder_new"), key).content.decode()
    assert "stands there with that key" in again
    here.post(reverse("cask_entry"), {"cask": "C003", "wood": "European oak", "head_year": "2020"})
    assert (known("C003").wood, known("C003").head_year) == ("European oak", 2020)
    assert "European oak" in here.get(reverse("cask_entry"), {"cask": "C003"}).content.decode()
    assert browser_of(site).get(reverse("rows_new")).status_code == 403
