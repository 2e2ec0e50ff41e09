"""Every step's list, empty sheet, record and print, and on a telephone's width, so that who cannot see or point can use
them too.

The books are a small month in which each step between cask and customer stands once. Night has the same pages in other
colours, whose contrast `test_style.py` computes and `test_day_and_night.py` looks at.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from batches.steps import STEPS
from tests.batches.test_load_from_cask_to_customer import KINDS, TABLES
from tests.batches.tiny_month import write_folder
from tests.journeys.at_the_page import keep_as_typed
from tests.journeys.test_from_cask_to_customer import Sheets, dipped
from tests.running_site import Databases, run, serving

WIDTH = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
SHARED, NARROW = {"width": 1366, "height": 768}, {"width": 360, "height": 740}
# What is entered by a table of the plant alone has no empty sheet.
WRITTEN = [sheet for sheet in STEPS if not sheet.in_plant]
pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def site(
    chromium: str, migrated_original: str, databases: Databases, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[str]:
    """A small site in whose books each step stands."""
    database = databases.copy_of(migrated_original)
    folder = write_folder(tmp_path_factory.mktemp("month"), **TABLES)
    invited = "from distillery.management.demonstration import invite\ninvite()"
    done = run(database, "shell", "--verbosity", "0", "-c", invited)
    assert not done.returncode, done.stdout + done.stderr
    done = run(database, "load_month", folder, "--person", "brodie", "--second", "isla")
    assert not done.returncode, done.stdout + done.stderr
    with serving(database) as address:
        yield address


def test_every_step_can_be_read_and_written(sign_on: Callable[[str], Any], axe: Callable[[Any], None]) -> None:
    page = sign_on("staff")
    page.set_viewport_size(SHARED)
    recorded = []
    for sheet in WRITTEN:
        page.goto(f"/records/{sheet.kind}/")
        axe(page)
        assert page.get_by_role("heading", level=1).inner_text() == sheet.plural
        first = page.locator(f"main tbody a[href^='/records/{sheet.kind}/']").first
        if first.count():
            recorded.append(sheet.kind)
            with page.expect_navigation():
                first.click()
            axe(page)
            printed = page.get_by_role("link", name="PDF", exact=True).first.get_attribute("href")
            assert page.request.get(printed).body()[:5] == b"%PDF-"
        page.goto(f"/records/{sheet.kind}/new/")
        axe(page)
        page.set_viewport_size(NARROW)
        assert page.evaluate(WIDTH) <= 0, f"{page.url} goes sideways"
        page.set_viewport_size(SHARED)
    assert set(KINDS) <= set(recorded)


def test_a_sheet_that_is_refused_leads_to_each_box(sign_on: Callable[[str], Any], axe: Callable[[Any], None]) -> None:
    page = sign_on("staff")
    page.set_viewport_size(SHARED)
    for sheet in WRITTEN:
        page.goto(f"/records/{sheet.kind}/new/")
        page.evaluate("document.body.dataset.before = 'yes'")
        page.keyboard.press("F8")
        answered = page.locator("body:not([data-before]) :is(.error-summary, .question, .messages li)")
        answered.first.wait_for()
        if not page.locator(".error-summary a").count():
            continue
        axe(page)
        target = page.locator(".error-summary a").first.get_attribute("href")
        assert page.locator(target.replace(":", r"\:")).count() == 1, f"{sheet.kind}: {target} leads nowhere"


GIN = {"product": "gin", "bottle_centilitres": "70", "label_percent": "41.4"}
CHARGE = {
    "still": "P1",
    "low_wines_receiver": "L1",
    "feints_receiver": "F1",
    "spirit_receiver": "S1",
    **dipped("low_wines_before", "40", "24"),
    **dipped("low_wines_after", "20", "24"),
    **dipped("feints_before", "560", "36"),
    **dipped("feints_after", "20", "36"),
    **dipped("spirit_before", "0"),
}
NEXT = CHARGE | {
    **dipped("low_wines_before", "20", "24"),
    **dipped("low_wines_after", "5", "24"),
    **dipped("feints_before", "20", "36"),
    **dipped("feints_after", "10", "36"),
}
# By sheet: boxes, a line, a box that keeps what was typed, and what is said.
REFUSED = {
    "material_disposal": (
        {"went_to": "skip"},
        {"material": "cask", "lot": "KC-27-1", "pieces": "9", "reason": "staves broken"},
        ("line-0-pieces", "9"),
        ("Lot KC-27-1 (cask) holds 2 pieces", "receive more of it, or count the lot"),
    ),
    "cask_fill": (
        {"vat": "V1", **dipped("vat_before", "380", "64.9"), **dipped("vat_after", "180", "64.9")},
        {
            **{"cask": "3/27", "fill_number": "1", "tare_kg": "52", "gross_kg": "230", "celsius": "20"},
            **{"hydrometer_percent": "64.9", "warehouse": "1A"},
        },
        ("line-0-gross_kg", "230"),
        ("Cask 3/27 is full already", "Choose another cask"),
    ),
    "removal": (
        {**GIN, "bottles": "500", "kind": "home use", "consignee": "Ada Fenwick", "document": "W-9"},
        {},
        ("bottles", "500"),
        ("Bottles is 500, but there are 40 bottles",),
    ),
    "bulk_removal": (
        {
            **{"vessel": "V1", "kind": "under bond"},
            **dipped("vessel_before", "380", "64.9"),
            **dipped("vessel_after", "280", "64.9"),
        },
        {},
        ("vessel_after_dip_mm", "280"),
        ("Movement reference is blank", "Guarantee is blank", "or choose what else it left for"),
    ),
    "mash": (
        {
            **{"malt_lot": "M001", "grist_kg": "500", "ended_at": "now", "wort_litres": "2400"},
            **{"wort_gravity": "1.0600", "wort_celsius": "18", "washback": "B1"},
        },
        {},
        ("wort_litres", "2400"),
        ("B1 holds wash: FE0002 ferments in it", "Choose another washback"),
    ),
}


def test_what_cannot_be_says_what_to_do_and_keeps_what_was_typed(sign_on: Callable[[str], Any]) -> None:
    sheets = Sheets(sign_on("staff"), lambda page: None, {})
    page = sheets.page
    for kind, (boxes, line, (box, typed), sentences) in REFUSED.items():
        page.goto(f"/records/{kind}/new/")
        for rest in page.locator("summary", has_text="Write the rest now").all():
            rest.click()
        sheets.fill(boxes, (line,) if line else ())
        said = refused(sheets)
        for sentence in sentences:
            assert sentence in said, f"{kind}: {said}"
        assert page.input_value(f"[name={box}]") == typed
    # A label below what its name asks for is asked about, since a bottling that was done has to stand in the books.
    page.goto("/records/bottling/new/")
    vat = {"vat": "X1", **dipped("vat_before", "791", "64.1"), **dipped("vat_after", "720", "64.1")}
    sheets.fill({**GIN, "label_percent": "37.0", "bottles": "100", "lot_code": "L27090", "legal_name": "gin", **vat})
    page.keyboard.press("F8")
    page.get_by_text("gin is bottled at 37.5 % vol or more").first.wait_for()
    assert "Do not send it out under that name" in page.locator(".question").inner_text()
    assert page.input_value("[name=bottles]") == "100"


def test_a_still_that_is_charged_is_ended_by_a_button(sign_on: Callable[[str], Any]) -> None:
    sheets = Sheets(sign_on("staff"), lambda page: None, {})
    page = sheets.page
    for boxes in (CHARGE, NEXT):
        page.goto("/records/spirit_run/new/")
        sheets.fill(boxes)
        if boxes is CHARGE:
            sheets.save()
            page.wait_for_url(re.compile(r"/SR\d+/running/$"))
    said = refused(sheets)
    before = re.search(r"P1 holds spirit run (SR\d+)", said)
    assert before, said
    page.evaluate("document.body.dataset.before = 'yes'")
    page.get_by_role("button", name=f"Save, and end {before.group(1)} with its readings missing").click()
    page.locator("body:not([data-before]) :is(.messages li, .question, .error-summary)").first.wait_for()
    keep_as_typed(page)
    page.wait_for_url(re.compile(r"/SR\d+/running/$"))
    number = page.url.split("/")[-3]
    assert number != before.group(1)
    page.goto(f"/records/spirit_run/{before.group(1)}/")
    assert "missing" in page.locator("main").inner_text().casefold()
    page.goto(f"/records/spirit_run/{number}/complete/")
    lees = {"spent_lees_litres": "300", "spent_lees_percent": "0.05"}
    sheets.fill({**dipped("feints_receiver_after", "200", "36"), **lees})
    assert "Spirit receiver after: dip is blank; it is needed for the finish." in refused(sheets)
    assert page.input_value("[name=feints_receiver_after_dip_mm]") == "200"


def refused(sheets: Sheets) -> str:
    """Saves a sheet that cannot be saved; what is said on its page."""
    page = sheets.page
    page.evaluate("document.body.dataset.before = 'yes'")
    page.keyboard.press("F8")
    said = page.locator("body:not([data-before]) .error-summary")
    said.wait_for()
    return str(said.inner_text())
