"""An empty site, from nothing to its first mash, by what the page First month says and by nothing else.

Everything of the site is invented. Its books are its own, so they go by real time.
"""

from __future__ import annotations

import os
import re
import subprocess
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Error

from tests.running_site import MANAGE, Databases, environment, serving

Look = Callable[[Any], None]
BETWEEN_LOOKS_MS, MOST_LOOKS = 100, 200
PASSWORD = "three-quiet-stills"
TABLE = "0 0\n1000 4000\n3000 12000"
# Code, name, kind, what it holds, what it is kept for, table.
VESSELS = (
    ("WB1", "Washback 1", "washback", "wash", "", TABLE),
    ("WS", "Wash still", "still", "wash", "", ""),
    ("SS", "Spirit still", "still", "low wines and feints", "", ""),
    ("LWR", "Low wines receiver", "receiver", "low wines and feints", "low wines", TABLE),
    ("SPR", "Spirit receiver", "receiver", "new spirit", "spirit", ""),
)
# Code, what it measures, unit, resolution, standard uncertainty, the temperature of its scale.
INSTRUMENTS = (
    ("ALC1", "strength", "percent_vol", "0.1", "0.06", "20"),
    ("TH1", "temperature", "celsius", "0.1", "0.1", ""),
    ("ROD1", "dip", "mm", "1", "0.6", ""),
    ("SAC1", "gravity", "relative_density", "0.0001", "0.0001", ""),
)


@pytest.fixture(scope="module")
def site(chromium: str, databases: Databases, migrated_original: str) -> Iterator[str]:
    """Address of a site with one manager and nothing else."""
    url = databases.copy_of(migrated_original)
    made = subprocess.run(
        [*MANAGE, "person", "r.alder", "--role", "manager", "--first-name", "Rowan", "--last-name", "Alder"],
        env=environment(url),
        input=f"{PASSWORD}\n",
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert made.returncode == 0, made.stderr
    with serving(url) as address:
        yield address


def shot(page: Any, name: str) -> None:
    if folder := os.environ.get("SCREENSHOTS"):
        page.screenshot(path=f"{folder}/{name}.png", full_page=True)


class FirstMonth:
    """Goes on from the page First month: presses what it says, fills the form, and comes back to it."""

    def __init__(self, page: Any) -> None:
        self.page = page

    def next(self) -> str:
        """What the page says comes next."""
        found: str = self.page.locator(".first-next b").inner_text()
        return found.removeprefix("Next: ").removesuffix(".")

    def press(self, text: str) -> None:
        self._lead_away(self.page.locator(".first-ways").get_by_text(text, exact=True))

    def save(self, **boxes: str) -> None:
        """Fills the form that is open and saves it; the form leads back."""
        for name, value in boxes.items():
            box = self.page.locator(f"[name={name}]")
            if box.first.evaluate("box => box.tagName") == "SELECT":
                box.select_option(value)
            elif box.first.get_attribute("type") == "checkbox":
                self.page.locator(f"[name={name}][value={value}]").check()
            else:
                box.fill(value)
        self._lead_away(self.page.locator("main form[method=post] .buttons button").first)
        faults = self.page.locator(".field-error, .error-summary").all_inner_texts()
        assert not faults, faults

    def _lead_away(self, button: Any) -> None:
        """Presses what leads to another page, and waits until that stands."""
        self.page.evaluate("window.left = true")
        button.click()
        for _ in range(MOST_LOOKS):
            self.page.wait_for_timeout(BETWEEN_LOOKS_MS)
            try:
                # Another page has not been marked.
                if self.page.evaluate("window.left === undefined && document.readyState === 'complete'"):
                    return
            except Error:
                # It is asked in the moment between two pages.
                continue
        raise AssertionError(f"{self.page.url} was not left")

    def enter(self, text: str, **boxes: str) -> None:
        self.press(text)
        self.save(**boxes)
        assert self.page.url.endswith("/site/first-month/"), self.page.url


def done_of(page: Any) -> int:
    found = re.search(r"(\d+) of \d+ done", page.locator("main").inner_text())
    assert found is not None
    return int(found[1])


def test_an_empty_site_from_nothing_to_its_first_mash(page: Any, axe: Look) -> None:
    page.goto("/")
    page.fill("input[name=username]", "r.alder")
    page.fill("input[name=password]", PASSWORD)
    page.press("input[name=password]", "Enter")
    page.wait_for_url(lambda url: "/sign-on/" not in url)
    page.get_by_role("link", name="First month").click()
    page.wait_for_url("**/site/first-month/")
    axe(page)
    shot(page, "first-month-empty")
    here = FirstMonth(page)
    assert done_of(page) == 1, "the first manager alone is there"
    assert here.next() == "A second person who writes"

    here.enter(
        "Add a person",
        first_name="Fern",
        last_name="Ashby",
        username="f.ashby",
        roles="staff",
        password="a-copper-lantern-9",
        password_again="a-copper-lantern-9",
        reason="writes on the day shift",
    )
    assert here.next() == "The site's name, address and approval"
    here.enter(
        "Enter name and approval",
        name="Underhill Stillhouse",
        address="2 Weir Lane, Underhill (invented)",
        approval_number="HX 0007",
        from_day="2026-11-01",
        source="approval letter (invented)",
        reason="the site begins",
    )
    assert "Underhill Stillhouse" in page.locator(".name-bar").inner_text()

    assert here.next() == "Vessels"
    for code, name, kind, stage, purpose, table in VESSELS:
        here.enter("Add a vessel", code=code, name=name, kind=kind, stage=stage, purpose=purpose, lines=table)
    # The spirit receiver came without its table: the page names it.
    assert here.next() == "Tables of the vessels"
    assert "Without a table: SPR" in page.locator(".first-next").inner_text()
    here.enter("Enter a vessel's table", vessel="SPR", lines="0;0\n2500;2500")

    for code, measures, unit, resolution, uncertainty, reference in INSTRUMENTS:
        assert here.next() == "Instruments and their certificates"
        here.enter(
            "Add an instrument",
            code=code,
            measures=measures,
            unit=unit,
            resolution=resolution,
            standard_uncertainty=uncertainty,
            reference_celsius=reference,
        )
    shot(page, "first-month-half")

    assert here.next() == "Review thresholds looked through"
    here.press("Review thresholds")
    page.get_by_role("button", name="I have looked through them: they stand").click()
    page.wait_for_url("**/site/first-month/")
    assert "Looked through by Rowan Alder" in page.locator("main").inner_text()
    assert here.next() == "The first period of account"
    here.press("We account by calendar months")
    assert here.next() == "Opening stock"
    here.press("We begin with nothing")

    assert here.next() == "First malt intake"
    here.press("New malt intake")
    here.save(kind="malt", kilograms="4000")
    lot = page.locator("h1").inner_text().split()[-1]

    page.goto("/site/first-month/")
    assert here.next() == "First mash"
    here.press("New mash")
    shot(page, "first-mash")
    here.save(malt_lot=lot, grist_kg="1000")
    shot(page, "first-mash-saved")
    assert "Mash MA0001" in page.locator("main").inner_text()
    page.goto("/site/first-month/")
    assert here.next() == "First fermentation"
    assert "First mash ✓ done" in " ".join(page.locator("main").inner_text().split())
    axe(page)
    shot(page, "first-month-mashed")
