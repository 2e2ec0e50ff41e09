"""Whisky from its casks to a customer and back, written in the browser from one end to the other.

Casks are disgorged into two marrying vats, these are brought together, reduced, filtered and bottled; bottles leave for
home use and under bond, some come back, and the bottling is traced and recalled. The vats hold a litre for each
millimetre and are gauged at 20 °C, so that what a page says can be worked by hand.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest

from distillery.management.demonstration import GUESTS
from tests.journeys.at_the_page import clock_of, keep_as_typed, typed
from tests.ready_databases import SAMPLE_MONTH
from tests.running_site import Databases, run, serving

VATS = {
    "vessels": """\
vessel,name,kind,stage,capacity_litres
M1,Marrying vat 1,vat,vatted and reduced,3000
M2,Marrying vat 2,vat,vatted and reduced,3000
""",
    "calibration": "vessel,dip_mm,litres\nM1,0,0\nM1,3000,3000\nM2,0,0\nM2,3000,3000\n",
}
NEEDED = ("intake", "mashes", "fermentations", "wash_runs", "spirit_runs")
WIDTH = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
SHARED, NARROW = {"width": 1366, "height": 768}, {"width": 360, "height": 740}
# A month after they were regauged for the demonstration, each 0.3 kg lighter: numbers, tare, gross, °C, % vol read.
CASKS = {
    "M1": (
        ("2022/0001", "46.6", "214.7", "12.5", "58.9"),
        ("2022/0002", "50.4", "220.3", "9.8", "57.3"),
        ("2022/0003", "48.6", "215.6", "10.2", "57.9"),
    ),
    "M2": (("2022/0004", "46.9", "216.0", "11.6", "58.5"), ("2022/0005", "50.6", "218.0", "10.1", "57.6")),
}
WEIGHED = ("cask", "tare_kg", "gross_kg", "celsius", "hydrometer_percent")
PRODUCT = {"product": "whisky", "bottle_centilitres": "70", "label_percent": "46.0", "lot_code": "M27092"}
# OIML R 22 gives 557.8 L at 61.2 % vol for the first three and 371.7 L at 61.2 % for the others.
FILLED = {"M1": "556", "M2": "371"}
UNDER_BOND = {
    "consignee": "Carrow Bonded Stores, Harrowmere",
    "consignee_approval": "GBWK000000417",
    "movement_reference": "27GB0000000000000HM21",
    "guarantee": "HM-G-3",
    "product_code": "S200",
}


def dipped(prefix: str, dip: str, percent: str = "") -> dict[str, str]:
    """The boxes of a gauge at 20 °C."""
    return {f"{prefix}_dip_mm": dip, f"{prefix}_celsius": "20", f"{prefix}_hydrometer_percent": percent}


@pytest.fixture(scope="module")
def site(
    chromium: str, demo_database: str, databases: Databases, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[str]:
    """The demonstration with two marrying vats that stand empty."""
    database, folder = databases.copy_of(demo_database), tmp_path_factory.mktemp("vats")
    for part in ("plant", "log"):
        (folder / part).mkdir()
    for name, text in VATS.items():
        (folder / "plant" / f"{name}.csv").write_text(text, encoding="utf-8")
    for name in NEEDED:
        head = (SAMPLE_MONTH / "log" / f"{name}.csv").read_text(encoding="utf-8").splitlines()[0]
        (folder / "log" / f"{name}.csv").write_text(f"{head}\n", encoding="utf-8")
    done = run(database, "load_month", folder, "--person", "brodie", "--second", "isla")
    assert not done.returncode, done.stdout + done.stderr
    with serving(database) as address:
        yield address


@pytest.fixture
def written() -> dict[str, str]:
    """The numbers of the records so far, by their kind."""
    return {}


@pytest.fixture
def staff(sign_on: Callable[[str], Any]) -> Any:
    page = sign_on("staff")
    page.set_viewport_size(SHARED)
    return page


class Sheets:
    """Fills sheets in a window and looks each page over as it goes."""

    def __init__(self, page: Any, axe: Callable[[Any], None], written: dict[str, str]) -> None:
        self.page, self.axe, self.written = page, axe, written

    def fill(self, boxes: dict[str, str], lines: tuple[dict[str, str], ...] = ()) -> None:
        rows = enumerate(lines)
        every = boxes | {f"line-{place}-{name}": value for place, line in rows for name, value in line.items()}
        for name, value in every.items():
            box = self.page.locator(f"[name='{name}']:not([type=hidden])").first
            if box.evaluate("one => one.tagName") == "SELECT":
                box.select_option(value)
            else:
                box.fill(value)

    def save(self) -> None:
        # The page changes its own address as it keeps drafts, so the next one is known by what it lacks.
        self.page.evaluate("document.body.dataset.before = 'yes'")
        self.page.keyboard.press("F8")
        answered = "body:not([data-before]) :is(.messages li, .question, .error-summary)"
        self.page.locator(answered).first.wait_for()
        keep_as_typed(self.page)

    def write(
        self, kind: str, boxes: dict[str, str], *lines: dict[str, str], at: str = "at", ago: timedelta = timedelta()
    ) -> str:
        """A new record from its empty sheet to its page; gives its number. Empty sheets are looked over elsewhere."""
        self.page.goto(f"/records/{kind}/new/")
        self.fill({at: typed(clock_of(self.page) - ago), **boxes}, lines)
        self.save()
        said = self.page.locator(".error-summary")
        assert not said.count(), said.inner_text()
        self.page.wait_for_url(re.compile(rf"/records/{kind}/[A-Z]+\d+/$"))
        self.look()
        number = str(self.page.url).rstrip("/").rpartition("/")[2]
        self.written[kind] = number
        assert self.page.request.get(f"/records/{kind}/{number}/record.pdf").body()[:5] == b"%PDF-"
        return number

    def look(self) -> None:
        """The page as it stands, by day and by night and on a telephone."""
        for theme in ("Night", "Day"):
            with self.page.expect_response(lambda answer: answer.url.endswith("/screen/")):
                self.page.get_by_role("button", name=theme, exact=True).click()
            self.axe(self.page)
        self.page.set_viewport_size(NARROW)
        assert self.page.evaluate(WIDTH) <= 0, f"{self.page.url} goes sideways"
        self.page.set_viewport_size(SHARED)

    def text(self) -> str:
        """All that the page says, in small letters: some headings are shown in capitals."""
        return " ".join(self.page.locator("main").text_content().split()).casefold()


@pytest.fixture
def sheets(staff: Any, axe: Callable[[Any], None], written: dict[str, str]) -> Sheets:
    return Sheets(staff, axe, written)


def hours(number: float) -> timedelta:
    return timedelta(hours=number)


def casks_are_disgorged(sheets: Sheets) -> None:
    for place, (vat, casks) in enumerate(CASKS.items()):
        boxes = {"vat": vat, **dipped("vat_before", "0"), **dipped("vat_after", FILLED[vat], "61.2")}
        lines = [dict(zip(WEIGHED, cask, strict=True)) for cask in casks]
        sheets.write("disgorging", boxes, *lines, ago=hours(12 - place))
        assert "what the casks held" in sheets.text()
    # 114.77 and 112.82 LPA by the same table.
    assert "227.59" in sheets.text()


def a_cask_that_was_emptied_is_not_emptied_twice(sheets: Sheets) -> None:
    sheets.page.goto("/records/disgorging/new/")
    line = dict(zip(WEIGHED, CASKS["M1"][0], strict=True))
    boxes = {"at": typed(clock_of(sheets.page) - hours(10)), "vat": "M2", **dipped("vat_before", "371", "61.2")}
    sheets.fill({**boxes, **dipped("vat_after", "556", "61.2")}, (line,))
    sheets.save()
    assert "2022/0001 is empty in the books" in sheets.page.locator(".error-summary").inner_text()
    assert sheets.page.input_value("[name=line-0-gross_kg]") == "214.7"


def what_was_disgorged_is_vatted_reduced_and_filtered(sheets: Sheets) -> None:
    came = {"first_vessel": "M2", **dipped("first_before", "371", "61.2"), **dipped("first_after", "0")}
    vat = {"vat": "M1", **dipped("vat_before", "556", "61.2"), **dipped("vat_after", "926", "61.2")}
    sheets.write("vatting", vat | came, ago=hours(9))
    assert "4 years" in sheets.text()
    # 926 L at 61.2 % vol and 315 kg of water, weighed in air, make 1,231 L at 46.02 % vol (OIML R 22).
    both = {**dipped("before", "926", "61.2"), **dipped("after", "1231", "46.0")}
    sheets.write("reduction", {"vessel": "M1", "target_percent": "46.0", "water_kg": "315", **both}, ago=hours(8))
    assert "46.02" in sheets.text()
    kept = {"way": "plain", "filter_celsius": "18", "kept_litres": "1.5", "kept_percent": "46.0"}
    vat = {"vat": "M1", **dipped("vat_before", "1231", "46.0"), **dipped("vat_after", "1229", "46.0")}
    sheets.write("filtration", vat | kept, ago=hours(7))
    assert "0.69" in sheets.text()


def it_is_bottled_and_the_bottles_are_checked(sheets: Sheets) -> None:
    boxes = {
        **PRODUCT,
        "vat": "M1",
        "bottles": "1200",
        "legal_name": "whisky",
        "stated_years": "4",
        "lot_on_bottles": "yes",
        "lot_on_cases": "yes",
        "bottles_a_case": "6",
        **dipped("vat_before", "1229", "46.0"),
        **dipped("vat_after", "388", "46.0"),
    }
    at = typed(clock_of(sheets.page) - hours(5))
    checks = [
        {"checked_at": at, "filling_head": head, "fill_millilitres": fill, "checked_percent": "46.0"}
        for head, fill in (("1", "700.4"), ("2", "701.2"), ("3", "700.0"))
    ]
    sheets.write("bottling", boxes, *checks, ago=hours(5))
    for said in ("packers' rules", "m27092", "700.5"):
        assert said in sheets.text()


def bottles_leave_for_home_use(sheets: Sheets) -> None:
    boxes = {**PRODUCT, "bottles": "120", "kind": "home use", "consignee": "Ada Fenwick, Harrowmere", "document": "W-1"}
    sheets.write("removal", boxes, ago=hours(4))
    # 120 bottles of 0.7 L at 46 % vol.
    assert "38.640" in sheets.text()


def the_rate_of_the_day_is_entered_and_the_duty_worked_out(
    sheets: Sheets, sign_on: Callable[[str], Any], written: dict[str, str]
) -> None:
    address = f"/records/removal/{written['removal']}/"
    sheets.page.goto(address)
    assert "duty rate for 46.0 % vol" in sheets.text()
    sheets.page.context.clear_cookies()
    sign_on("manager")
    sheets.page.goto("/site/duty-rate/")
    sheets.look()
    band = {"strength_from_percent": "22.1", "strength_to_percent": "100", "pounds_per_lpa": "34.00"}
    sheets.fill({"from_day": "2027-02-01", **band, "tax_type": "345", "source": "a rate for practice"})
    # Two people set a rate; the second signs in the same form.
    sheets.fill({"second_name": "brodie", "second_password": "low-wines-24"})
    with sheets.page.expect_navigation():
        sheets.page.get_by_role("button", name="Save duty rate").click()
    sheets.page.goto(address)
    # 38.64 LPA at 34 pounds.
    assert "1,313.76" in sheets.text()


def under_bond_nothing_leaves_without_its_papers(sheets: Sheets) -> None:
    page = sheets.page
    page.goto("/records/removal/new/")
    at = typed(clock_of(page) - hours(3))
    sheets.fill({**PRODUCT, "at": at, "bottles": "240", "kind": "under bond"})
    sheets.save()
    refused = page.locator(".error-summary").inner_text()
    for asked in ("consignee", "approval", "Movement reference", "Guarantee", "product code"):
        assert asked in refused
    assert page.input_value("[name=bottles]") == "240"
    sheets.look()
    sheets.fill(UNDER_BOND)
    sheets.save()
    page.wait_for_url(re.compile(r"/records/removal/RM\d+/$"))
    sheets.look()
    number = page.url.rstrip("/").rpartition("/")[2]
    page.goto("/removals/")
    assert number.casefold() in sheets.text()
    page.goto(f"/records/removal/{number}/complete/")
    sheets.look()
    sheets.fill({"reported_at": typed(clock_of(page) - hours(1)), "bottles_arrived": "238", "report_reference": "RR-1"})
    sheets.save()
    # Two bottles did not arrive, and nobody said why.
    assert "write the reason" in page.locator(".error-summary").inner_text()
    sheets.fill({"difference_reason": "two bottles broken on the road"})
    sheets.save()
    page.wait_for_url(re.compile(rf"/records/removal/{number}/$"))
    sheets.look()
    assert "two bottles broken on the road" in sheets.text()


def no_more_leaves_than_is_there(sheets: Sheets) -> None:
    sheets.page.goto("/records/removal/new/")
    at = typed(clock_of(sheets.page) - hours(1))
    sheets.fill({**PRODUCT, "at": at, "bottles": "5000", "kind": "home use"})
    sheets.save()
    # 1,200 bottled, 120 and 240 gone.
    assert "840 bottles" in sheets.page.locator(".error-summary").inner_text()
    assert sheets.page.input_value("[name=bottles]") == "5000"


def bottles_come_back_without_script(browser: Any, site: str, written: dict[str, str]) -> None:
    guest = next(one for one in GUESTS if one.role == "staff")
    context = browser.new_context(base_url=site, java_script_enabled=False, viewport=NARROW, locale="en-GB")
    context.set_default_timeout(10_000)
    page = context.new_page()
    page.goto("/sign-on/?next=/records/return_inward/new/")
    page.fill("input[name=username]", guest.username)
    page.fill("input[name=password]", guest.password)
    page.press("input[name=password]", "Enter")
    page.wait_for_url("**/return_inward/new/")
    boxes = {
        **PRODUCT,
        "bottles": "12",
        "came_from": "Carrow Bonded Stores, Harrowmere",
        "document": "RN-1",
        "reason": "labels crooked",
        "condition": "sound",
    }
    for name, value in boxes.items():
        page.locator(f"[name='{name}']:not([type=hidden])").first.fill(value)
    page.locator("[name=status]").select_option("under bond")
    page.locator("[data-save]").click()
    page.locator(".messages li, .question, .error-summary").first.wait_for()
    keep_as_typed(page)
    assert re.search(r"/records/return_inward/RI\d+/$", page.url), page.locator("main").inner_text()
    written["return_inward"] = page.url.rstrip("/").rpartition("/")[2]
    context.close()


def the_bottling_is_traced_both_ways(sheets: Sheets, written: dict[str, str]) -> None:
    page = sheets.page
    page.goto(f"/trace/?ref={written['bottling']}")
    sheets.look()
    said = sheets.text()
    heads = [one.casefold() for one in page.locator("#flow .flow-head").all_text_contents()]
    # As the spirit went, not as the steps are listed.
    went = [heads.index(one) for one in ("cask", "disgorging", "vatting", "reduction", "bottling")]
    assert went == sorted(went), heads
    for place in ("2022/0001", "2022/0005", written["disgorging"], written["removal"]):
        assert place.casefold() in said
    assert page.request.get(f"/trace/trace.pdf?ref={written['bottling']}").body()[:5] == b"%PDF-"


def it_is_recalled_and_the_recall_ended_in_two_names(
    sheets: Sheets, sign_on: Callable[[str], Any], written: dict[str, str]
) -> None:
    page, number = sheets.page, written["bottling"]
    page.goto(f"/recalls/touched/?ref={number}")
    sheets.look()
    with page.expect_navigation():
        page.get_by_role("link", name="Recall it").click()
    sheets.look()
    page.fill("[name=reason]", "a filling head that chips glass")
    with page.expect_navigation():
        page.get_by_role("button", name="Recall it").click()
    sheets.look()
    assert "ada fenwick" in sheets.text()
    page.goto(f"/records/removal/{written['removal']}/")
    assert "recalled" in sheets.text()
    page.goto(f"/recalls/touched/?ref={number}")
    with page.expect_navigation():
        page.get_by_role("link", name="End the recall").click()
    page.fill("[name=reason]", "every bottle was held to the light")
    with page.expect_navigation():
        page.get_by_role("button", name="Ask for its end").click()
    assert page.get_by_role("button", name="Agree to its end").count() == 0
    page.context.clear_cookies()
    sign_on("manager")
    page.goto(f"/recalls/touched/?ref={number}")
    sheets.look()
    with page.expect_navigation():
        page.get_by_role("button", name="Agree to its end").click()
    assert "is no longer recalled" in sheets.text()
    page.goto("/recalls/")
    sheets.look()


@pytest.mark.long
def test_from_cask_to_customer_and_back(
    sheets: Sheets, sign_on: Callable[[str], Any], browser: Any, site: str, written: dict[str, str]
) -> None:
    """One test, since each part goes on from what the one before it wrote."""
    casks_are_disgorged(sheets)
    a_cask_that_was_emptied_is_not_emptied_twice(sheets)
    what_was_disgorged_is_vatted_reduced_and_filtered(sheets)
    it_is_bottled_and_the_bottles_are_checked(sheets)
    bottles_leave_for_home_use(sheets)
    the_rate_of_the_day_is_entered_and_the_duty_worked_out(sheets, sign_on, written)
    sheets.page.context.clear_cookies()
    sign_on("staff")
    under_bond_nothing_leaves_without_its_papers(sheets)
    no_more_leaves_than_is_there(sheets)
    bottles_come_back_without_script(browser, site, written)
    the_bottling_is_traced_both_ways(sheets, written)
    it_is_recalled_and_the_recall_ended_in_two_names(sheets, sign_on, written)
