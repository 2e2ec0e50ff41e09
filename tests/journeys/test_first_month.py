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

from tests.journeys.first_month import SECOND_PERSON, FirstMonth
from tests.running_site import MANAGE, Databases, environment, serving

Look = Callable[[Any], None]
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
        **SECOND_PERSON,
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
