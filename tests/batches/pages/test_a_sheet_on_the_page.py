"""A sheet as it lies on the page: one row a gauge, labels of every box, what the rows come to, cautions, help.

The site is invented. What a row comes to is compared with what the books say once the same readings are posted.
"""

from __future__ import annotations

import re

import pytest
from django.utils.html import escape
from small_site import CASKS, CHARGE, FILL, FINISH, charged_run, fill, vessel

from batches.models import Record, Version
from batches.records import recording
from batches.records.recording import Unfit
from batches.sheets.gauges import By
from batches.sheets.how_read import how_measured
from batches.sheets.sheet import STANDING_CAUTION
from batches.steps import STEPS
from distillery import figures
from distillery.alcoholometry.wort import LITRE_DEGREES_PER_PERCENT
from distillery.plant.models import Kind, Stage
from distillery.seals.writing import written_by
from ledger.models import Gauge, MeasuredFlow, Movement
from ledger.posting.how_measured import HOW_MEASURED

pytestmark = pytest.mark.django_db

SHARED = {name: text for name, text in CHARGE.items() if not name.startswith("feints_receiver_before")}


def labels_of(page: str) -> dict[str, str]:
    """The label of each box by its id, as it is read out."""
    found = re.findall(r'<label[^>]* for="(\w[\w-]*)"[^>]*>(.*?)</label>', page, re.DOTALL)
    return {box: " ".join(re.sub(r"<[^>]+>", "", text).split()) for box, text in found}


@pytest.mark.parametrize("sheet", STEPS, ids=lambda sheet: sheet.kind)
def test_every_box_of_every_step_has_a_label_and_stands_once(site, browser_of, sheet):
    page = browser_of(site).get(f"/records/{sheet.kind}/new/").content.decode()
    labels = labels_of(page)
    form = page[page.index('id="sheet"') :].partition("</form>")[0]
    boxes = re.findall(r'<(?:input|select)[^>]*\sname="([^"]+)"[^>]*>', form)
    assert len(boxes) == len(set(boxes))
    for field in sheet.fields:
        assert labels[f"id_{field.name}"]
    for field in sheet.row_fields:
        assert labels[f"id_line-0-{field.name}"]
    described = set(re.findall(r'aria-describedby="([^"]+)"', page.replace("line-spare", "line-0")))
    for name in {one for names in described for one in names.split()}:
        assert f'id="{name}"' in page, f"{name} describes a box and is not on the page"


def test_a_vessel_kept_for_nothing_in_particular_is_offered_after_those_that_are(site, browser_of):
    """Reading the sheet takes it in any box of its stage, so the box has to offer it."""
    with written_by(None, "tests"):
        vessel("NEW", Kind.RECEIVER, Stage.LOW_WINES)
    page = browser_of(site).get("/records/wash_run/new/").content.decode()
    receiver = page[page.index('name="receiver"') :].partition("</select>")[0]
    assert re.findall(r'<option value="(\w*)"', receiver) == ["", "LWR", "NEW"]


def test_a_label_says_vessel_moment_and_unit(site, browser_of):
    labels = labels_of(browser_of(site).get("/records/spirit_run/new/").content.decode())
    assert labels["id_low_wines_before_dip_mm"] == "LWR of the tests, before charging: dip, mm"
    assert labels["id_spirit_before_hydrometer_percent"].endswith(
        "remnant before the run: hydrometer, % vol, as it reads"
    )
    lines = labels_of(browser_of(site).get("/records/cask_fill/new/").content.decode())
    assert lines["id_line-3-tare_kg"] == "Cask on line 4: tare, kg"


def test_what_the_rows_come_to_is_what_posting_makes_of_them(site, browser_of):
    here = browser_of(site)
    before = Movement.objects.count(), Record.objects.count(), Version.objects.count()
    data = dict(FILL) | {f"line-{n}-{name}": text for n, line in enumerate(CASKS) for name, text in line.items()}
    answer = here.post("/records/cask_fill/worked-out/", data | {"lines": "8"}).json()
    assert (Movement.objects.count(), Record.objects.count(), Version.objects.count()) == before
    record = fill(site)
    for gauge in Gauge.objects.filter(movement__record_number=record.number):
        assert answer["gauges"][gauge.name]["lpa"] == figures.lpa(gauge.pure_ul)
    flows = MeasuredFlow.objects.filter(movement__record_number=record.number).order_by("line")
    assert [answer["lines"][str(n)]["lpa"] for n in range(len(CASKS))] == [figures.lpa(one.pure_ul) for one in flows]
    assert "Difference, LPA" in answer["sums"]


def test_a_gauge_of_the_finish_counts_with_what_stands_on_the_record(site, browser_of):
    record = charged_run(site)
    answer = browser_of(site).post(f"/records/spirit_run/worked-out/?number={record.number}", FINISH).json()
    recording.save("spirit_run", record.number, FINISH, person=site)
    after = Gauge.objects.get(movement__record_number=record.number, name="spirit_after")
    assert answer["gauges"]["spirit_after"]["lpa"] == figures.lpa(after.pure_ul)
    assert "Received, LPA" in answer["sums"]


def test_half_a_row_comes_to_nothing_and_says_nothing(site, browser_of):
    data = CHARGE | {"low_wines_before_hydrometer_percent": "", "low_wines_before_celsius": "warm"}
    answer = browser_of(site).post("/records/spirit_run/worked-out/", data).json()
    assert answer["gauges"]["low_wines_before"] == {"litres": "", "percent": "", "lpa": "", "why": ""}
    assert answer["gauges"]["low_wines_after"]["lpa"]
    outside = browser_of(site).post("/records/spirit_run/worked-out/", CHARGE | {"spirit_before_dip_mm": "99000"})
    assert "99000" in outside.json()["gauges"]["spirit_before"]["why"].replace(",", "")


def test_wash_dipped_at_a_time_that_cannot_be_read_comes_to_nothing_yet(site, browser_of):
    data = {"still": "WS", "washback": "WB1", "charged_at": "é", "washback_before_dip_mm": "1000"}
    answer = browser_of(site).post("/records/wash_run/worked-out/", data)
    assert answer.status_code == 200
    assert answer.json()["gauges"]["washback_before"] == {"litres": "", "percent": "", "lpa": "", "why": ""}


def test_only_who_may_write_has_a_sheet_worked_out(officer, browser_of, site, stranger):
    assert browser_of(officer).post("/records/spirit_run/worked-out/", CHARGE).status_code == 403
    assert stranger.post("/records/spirit_run/worked-out/", {}).status_code in (302, 403)
    assert browser_of(site).get("/records/spirit_run/worked-out/").status_code == 405
    assert browser_of(site).post("/records/nothing/worked-out/", {}).status_code == 404
    assert browser_of(site).post("/records/spirit_run/worked-out/?number=SR9999", {}).status_code == 404


def test_the_button_works_it_out_and_writes_nothing(site, browser_of):
    there = Record.objects.count()
    page = browser_of(site).post("/records/spirit_run/new/", CHARGE | {"work_out": "1"}).content.decode()
    assert Record.objects.count() == there
    row = page[page.index('data-gauge="low_wines_before"') :].partition("</tr>")[0]
    assert re.search(r'data-end="lpa">[\d.,]+<', row)
    assert "to put right" not in page


def test_a_shared_gauge_is_folded_away_until_it_was_taken_apart(site, browser_of):
    page = browser_of(site).post("/records/spirit_run/new/", SHARED | {"work_out": "1"}).content.decode()
    row = page[page.index('data-gauge="feints_receiver_before"') :].partition("</tr>")[0]
    assert "The same gauge as after charging" in row
    other = page[page.index('data-gauge="feints_after"') :].partition("</tr>")[0]
    ends = re.compile(r'data-end="\w+">([^<]*)<')
    assert ends.findall(row) == ends.findall(other)
    page = browser_of(site).post("/records/spirit_run/new/", CHARGE | {"work_out": "1"}).content.decode()
    assert "The same gauge as after charging" not in page


def test_a_line_is_named_by_its_place_on_the_page(site, browser_of):
    blank = {name: text for name, text in CASKS[1].items() if name != "tare_kg"}
    lines = [CASKS[0], {}, {}, blank]
    data = dict(FILL) | {f"line-{n}-{name}": text for n, line in enumerate(lines) for name, text in line.items()}
    page = browser_of(site).post("/records/cask_fill/new/", data | {"lines": "6"}).content.decode()
    assert "Tare is blank on line 4; write tare and gross, or the litres by meter or dip." in page
    assert 'href="#id_line-3-tare_kg"' in page
    record = fill(site)
    with pytest.raises(Unfit, match=r"Tare is blank on line 3;"):
        recording.correct(record, {}, [CASKS[0], {}, blank], person=site, reason="read again")


# -- cautions, help, how things are measured


def test_a_caution_is_one_line_and_stands_open_until_the_person_has_written_there(site, manager, browser_of):
    address = "/records/cask_fill/new/"
    first = browser_of(site).get(address).content.decode()
    assert '<details class="caution" open>' in first
    assert "heavy casks; vapour that catches fire; static." in first
    fill(site)
    again = browser_of(site).get(address).content.decode()
    assert '<details class="caution">' in again
    assert escape(STANDING_CAUTION) in again
    assert '<details class="caution" open>' in browser_of(manager).get(address).content.decode()
    number = Record.objects.get(kind="cask_fill").number
    assert "heavy casks" in browser_of(site).get(f"/records/cask_fill/{number}/correct/").content.decode()


def test_a_caution_is_printed_on_the_blank_sheet_and_not_on_what_was_filed(site, officer, browser_of):
    from io import BytesIO

    from pypdf import PdfReader

    def text(address: str) -> str:
        pages = PdfReader(BytesIO(browser_of(officer).get(address).content)).pages
        return " ".join(" ".join(page.extract_text() for page in pages).split())

    record = fill(site)
    assert "never lift it by hand" in text("/records/cask_fill/blank-sheet.pdf")
    assert "never lift it by hand" not in text(f"/records/cask_fill/{record.number}/record.pdf")


def test_every_way_of_gauging_says_how_it_is_measured_and_by_which_source(site, browser_of):
    assert {one.by for sheet in STEPS for one in sheet.gauges} <= set(HOW_MEASURED)
    assert set(By) >= set(HOW_MEASURED)
    page = browser_of(site).get("/records/wash_run/new/").content.decode()
    assert "How this is measured" in page
    for how in (HOW_MEASURED[By.WASH_DIP], HOW_MEASURED[By.SPIRIT_DIP]):
        assert how.name in page
        assert escape(how.sources[0]) in page
    assert HOW_MEASURED[By.WEIGHT].name not in page


def test_every_sheet_that_measures_says_how(site, browser_of):
    says_nothing = {sheet.kind for sheet in STEPS if not how_measured(sheet)}
    # Who moves, owns, opens, walks, numbers or cleans measures nothing that a sum is made of.
    moves = {"cask_numbering", "cask_move", "cask_owner", "warehouse_round", "warehouse_opening", "cleaning"}
    assert says_nothing == moves
    page = browser_of(site).get("/records/mash/new/").content.decode()
    assert "How this is measured" in page
    # Hand-worked: 24,000 L at 60 degrees of 5,000 kg are 288 litre-degrees a kg, / 3.86 = 74.6 % of the grist.
    assert f"{24_000 * 60 / 5_000 / LITRE_DEGREES_PER_PERCENT:.1f}" == "74.6"
    assert "/ 3.86 makes a percentage of the grist" in page
    assert "Lewis and T. W. Young" in page


def test_help_is_said_once_and_not_under_each_box(site, browser_of):
    page = browser_of(site).get("/records/spirit_run/new/").content.decode()
    assert page.count("What the hydrometer showed at that temperature") == 1
    assert "(if any)" not in page.partition('class="field read-by')[0]


# -- the one reading that a finding suggests


def test_a_suggestion_stands_alone_and_the_rest_is_folded(site, browser_of):
    record = fill(site)
    address = f"/records/cask_fill/{record.number}/correct/?suggest=vat_after_dip_mm:900"
    page = browser_of(site).get(address).content.decode()
    alone, _, rest = page.partition('<details class="beside-sheet rest">')
    assert 'name="vat_after_dip_mm"' in alone
    assert 'name="vat_after_dip_mm"' not in rest
    assert 'name="reason"' in alone
    assert 'name="vat_before_dip_mm"' in rest
    wrong = {**FILL, "vat_after_dip_mm": "900", "vat_before_dip_mm": "high", "reason": "misread", "lines": "8"}
    wrong |= {f"line-{n}-{name}": text for n, line in enumerate(CASKS) for name, text in line.items()}
    assert '<details class="beside-sheet rest" open>' in browser_of(site).post(address, wrong).content.decode()
