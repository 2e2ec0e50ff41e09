"""From a program just installed to a site that is set up, through the browser: first manager, this PC, a second person,
the site's name, plant and opening stock from a workbook, review thresholds, calendar months.

The walk is a journey of the suite, and a script for whatever else serves:
`python -m tests.journeys.from_nothing COMMAND`, where COMMAND runs the site's commands, such as `gaugebook` of a wheel
or `.venv/bin/python manage.py` of another clone, on the engine that DATABASE_URL names; the database has to be empty.
It says how long `serve` took to answer and how long the walk.
"""

from __future__ import annotations

import os
import re
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from openpyxl import load_workbook

from tests.journeys.first_month import SECOND_PERSON, FirstMonth
from tests.running_site import serving_process

Look = Callable[[Any, str], None]
LONGEST_UNTIL_CODE_S = 10
LONGEST_MS = 60_000
# As the empty workbook has its columns, from B on. All of it is invented.
SITE: dict[str, list[list[object]]] = {
    "Vessels": [
        ["WB1", "Washback 1", "washback", "wash", 10800],
        ["WS", "Wash still", "still", "wash", 6000],
        ["SS", "Spirit still", "still", "low wines and feints", 4000],
        ["LWR", "Low wines receiver", "receiver", "low wines and feints", 3000, "low wines"],
        ["SR1", "Spirit receiver 1", "receiver", "new spirit", 1200, "spirit"],
    ],
    "Dip tables": [
        *(["WB1", dip_mm, litres] for dip_mm, litres in ((0, 0), (2000, 10800))),
        *(["LWR", dip_mm, litres] for dip_mm, litres in ((0, 0), (1000, 3000))),
        *(["SR1", dip_mm, litres] for dip_mm, litres in ((0, 0), (500, 600.5), (1000, 1201))),
    ],
    "Instruments": [
        ["DIP", "dip", "mm", 1, 0.85],
        ["THERM", "temperature", "celsius", 0.1, 0.08],
        ["HYD", "strength", "percent_vol", 0.1, 0.1, 20],
        ["SAC", "gravity", "relative_density", 0.0001, 0.0001],
    ],
    "Casks": [
        ["2022/0001", "barrel", 1, 200, "1A", "2022-02-15 09:00", 46.6, 223.4, 63.5],
        ["2022/0002", "hogshead", 2, 250, "1A", "2022-03-15 09:00", 58.2, 279.5, 63.5],
    ],
    "Opening stock": [["SR1", "2026-11-01 06:00", 506, 16.4, 34.8]],
    "Opening bottled stock": [["2026-11-01 06:00", "gin", 70, 41.4, 310]],
}


def code_of(console: list[str]) -> str:
    """The code of the first run, as the server's console says it."""
    began = time.monotonic()
    while not (said := [line for line in console if "Nobody can sign on yet" in line]):
        assert time.monotonic() - began < LONGEST_UNTIL_CODE_S, console
        time.sleep(0.05)
    (code,) = re.findall(r"\d{4} \d{4} \d{4}", said[0])
    return str(code)


def set_up(page: Any, address: str, code: str, folder: Path, look: Look) -> None:
    """Does all that First month asks for before the first mash, and goes from page to page by what they offer.

    `look` is given the window and a name at each new page; the workbook is made in `folder`.
    """
    page.goto(f"{address}/")
    page.wait_for_url("**/first-run/")
    look(page, "1-first-run")
    for label, text in (
        ("Code", code),
        ("First name", "Rowan"),
        ("Last name", "Alder"),
        ("Signs on as", "r.alder"),
        ("Password", "three-quiet-stills"),
        ("The same again", "three-quiet-stills"),
    ):
        page.get_by_label(label, exact=True).fill(text)
    page.get_by_role("button", name="Make the first manager").click()
    page.wait_for_url("**/first-month/")
    look(page, "2-first-month")
    page.get_by_role("link", name="Enrol this PC").click()
    page.wait_for_url("**/site/pc/enrol/**")
    page.get_by_label("Name of this PC").fill("Office PC")
    page.get_by_label("Where it stands").select_option("Desk")
    page.get_by_role("button", name="Enrol this PC").click()
    page.wait_for_url("**/first-month/")
    here = FirstMonth(page)
    here.enter(
        "Enter name and approval",
        name="Harrowmere Stillhouse",
        address="The Maltings, Harrowmere (invented)",
        from_day="2026-11-01",
        source="approval letter (invented)",
        reason="the site begins",
    )
    assert page.get_by_text("Harrowmere Stillhouse, from").count()
    here.enter(
        "Add a person",
        **SECOND_PERSON,
    )
    look(page, "3-named")
    _brought_in(page, folder, look)
    page.locator("main").get_by_role("link", name="First month").click()
    page.wait_for_url("**/site/first-month/")
    page.locator(".first-ways").get_by_text("Review thresholds", exact=True).first.click()
    page.get_by_role("button", name="I have looked through them: they stand").click()
    page.wait_for_url("**/first-month/")
    page.get_by_role("button", name="We account by calendar months").click()
    page.get_by_text("Next: First malt intake.").wait_for()
    look(page, "7-set-up")


def _brought_in(page: Any, folder: Path, look: Look) -> None:
    page.get_by_role("link", name="Bring in a workbook").first.click()
    page.wait_for_url("**/site/bring-in/")
    look(page, "4-bring-in")
    file = folder / "site.xlsx"
    with page.expect_download() as saved:
        page.get_by_role("link", name="Save the empty workbook").click()
    saved.value.save_as(file)
    book = load_workbook(file)
    for title, rows in SITE.items():
        for row in rows:
            book[title].append(["", *row])
    book.save(file)
    page.get_by_label("Workbook (.xlsx)").set_input_files(file)
    page.get_by_role("button", name="Look at it").click()
    button = page.get_by_role("button", name=f"Bring {sum(map(len, SITE.values()))} rows in")
    button.wait_for(timeout=LONGEST_MS)
    look(page, "5-looked-at")
    button.click()
    page.get_by_text("It is brought in.").wait_for(timeout=LONGEST_MS)
    look(page, "6-brought-in")


def shot(page: Any, name: str) -> None:
    """A picture of the whole page in the folder that SCREENSHOTS names, if it names one."""
    if folder := os.environ.get("SCREENSHOTS"):
        page.screenshot(path=f"{folder}/{name}.png", full_page=True)


def main() -> int:
    from playwright.sync_api import sync_playwright

    console: list[str] = []
    began = time.monotonic()
    as_root = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        database = os.environ.get("DATABASE_URL") or f"sqlite:///{name}/site.sqlite3"
        folder = Path(name)
        with serving_process(database, command=sys.argv[1:], folder=folder, console=console) as (_, address):
            served = time.monotonic()
            browser = playwright.chromium.launch(executable_path=os.environ.get("CHROMIUM") or None, args=as_root)
            page = browser.new_page(viewport={"width": 1366, "height": 768})
            set_up(page, address, code_of(console), folder, shot)
            done = time.monotonic()
            browser.close()
    print(f"Served {served - began:.0f} s after the command; set up {done - served:.0f} s later.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
