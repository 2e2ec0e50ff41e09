"""From nothing to a site that works: the server started, the first manager made, this PC enrolled, the site named."""

from __future__ import annotations

import os
import re
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from tests.running_site import Databases, run, serving_process

LONGEST_S = 600


def shot(page: Any, name: str) -> None:
    if folder := os.environ.get("SCREENSHOTS"):
        page.screenshot(path=f"{folder}/{name}.png", full_page=True)


@pytest.fixture(scope="module")
def console() -> list[str]:
    """What the server says, line by line."""
    return []


@pytest.fixture(scope="module")
def site(chromium: str, databases: Databases, console: list[str]) -> Iterator[str]:
    """Address of a site with nothing in it, as `serve` makes it."""
    url = databases.new()
    # Making the tables takes longer than a start may on a busy machine; `serve` then finds nothing to do.
    assert run(url, "migrate", "--verbosity", "0").returncode == 0
    with serving_process(url, console=console) as (_, address):
        yield address


@pytest.mark.browser
def test_from_an_empty_database_to_a_site_that_is_set_up(
    page: Any, axe: Callable[[Any], None], site: str, console: list[str]
) -> None:
    began = time.monotonic()
    while not (said := [line for line in console if "Nobody can sign on yet" in line]):
        assert time.monotonic() - began < 10, console
        time.sleep(0.05)
    page.goto(f"{site}/")
    page.wait_for_url("**/first-run/")
    axe(page)
    shot(page, "first-run")
    (code,) = re.findall(r"\d{4} \d{4} \d{4}", said[0])
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
    shot(page, "first-month")
    page.get_by_role("link", name="Enrol this PC").click()
    page.wait_for_url("**/site/pc/enrol/**")
    page.get_by_label("Name of this PC").fill("Office PC")
    page.get_by_label("Where it stands").select_option("Desk")
    page.get_by_role("button", name="Enrol this PC").click()
    page.wait_for_url("**/first-month/")
    page.get_by_role("link", name="Enter name and approval").first.click()
    page.wait_for_url("**/details/new/**")
    for name, text in (
        ("name", "Harrowmere Stillhouse"),
        ("address", "The Maltings, Harrowmere (invented)"),
        ("from_day", "2026-11-01"),
        ("source", "approval letter (invented)"),
        ("reason", "the site begins"),
    ):
        page.locator(f"[name={name}]").fill(text)
    page.get_by_role("button", name="Save name and approval").click()
    page.wait_for_url("**/first-month/")
    assert page.get_by_text("Harrowmere Stillhouse, from").count()
    page.get_by_role("link", name="Bring in a workbook").first.click()
    page.wait_for_url("**/site/bring-in/")
    assert page.get_by_role("link", name="Save the empty workbook").count()
    assert time.monotonic() - began < LONGEST_S
