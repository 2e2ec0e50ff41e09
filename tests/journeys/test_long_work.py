"""Long work in a browser: a page that renews itself with and without script, and an export made beside the pages."""

from __future__ import annotations

import os
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.jobs_behind import Jobs
from tests.running_site import Databases, serving

Look = Callable[[Any], None]
SignOn = Callable[[str], Any]
LONGEST_MS = 40_000


@pytest.fixture(scope="module")
def jobs(chromium: str, demo_database: str, databases: Databases) -> Jobs:
    return Jobs(databases.copy_of(demo_database))


@pytest.fixture(scope="module")
def site(jobs: Jobs) -> Iterator[str]:
    with serving(jobs.url) as address:
        yield address


def going_on(jobs: Jobs, **more: Any) -> int:
    """A job that another computer seems to do, and that nobody takes up meanwhile."""
    jobs.tell("UPDATE jobs_job SET state = %s WHERE state = 'going on' RETURNING id", ["given up"])
    # Signs of life go by real time, and this one lies ahead of it.
    alive = {"state": "going on", "run": 1, "machine": "another", "alive_at": "2099-01-01 00:00:00+00:00"}
    return jobs.ask("export", {"movements": 1, "seal": ""}, **alive, done=3, total=18, said="Writing legs.csv", **more)


def shot(page: Any, name: str) -> None:
    """A picture for whoever wants to look, where GAUGEBOOK_SHOTS names a folder."""
    if "GAUGEBOOK_SHOTS" in os.environ:
        page.screenshot(path=f"{os.environ['GAUGEBOOK_SHOTS']}/{name}.png", full_page=True)


def test_its_page_renews_itself_and_it_can_be_given_up(sign_on: SignOn, axe: Look, jobs: Jobs) -> None:
    number = going_on(jobs)
    page = sign_on("manager")
    page.goto(f"/books/long-work/{number}/")
    bar, said = page.locator("progress"), page.locator("#said")
    assert bar.evaluate("bar => [bar.value, bar.max]") == [3, 18]
    axe(page)
    shot(page, "going-on")
    page.evaluate("window.isTheSamePage = true")
    jobs.tell("UPDATE jobs_job SET done = 11, said = %s WHERE id = %s RETURNING id", ["Writing trail.jsonl", number])
    page.get_by_text("Writing trail.jsonl.").wait_for()
    assert bar.evaluate("bar => bar.value") == 11
    assert said.inner_text() == "Writing trail.jsonl."
    assert page.evaluate("window.isTheSamePage") is True
    page.set_viewport_size({"width": 320, "height": 640})
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    shot(page, "going-on-narrow")
    page.set_viewport_size({"width": 1280, "height": 800})
    page.get_by_role("button", name="Give up").click()
    page.get_by_text("It is given up. It can be done again from here.").wait_for()
    assert jobs.row(number)["state"] == "given up"
    axe(page)
    shot(page, "given-up")
    page.get_by_role("link", name="All long work").click()
    page.get_by_role("cell", name="Given up").first.wait_for()
    axe(page)
    shot(page, "list")


def test_without_script_the_page_asks_for_itself_anew(browser: Any, site: str, sign_on: SignOn, jobs: Jobs) -> None:
    number = going_on(jobs)
    signed_on = sign_on("manager")
    context = browser.new_context(
        base_url=site, java_script_enabled=False, storage_state=signed_on.context.storage_state()
    )
    page = context.new_page()
    page.goto(f"/books/long-work/{number}/")
    assert page.locator("#said").inner_text() == "Writing legs.csv."
    jobs.tell("UPDATE jobs_job SET said = %s WHERE id = %s RETURNING id", ["Writing seals.jsonl", number])
    page.get_by_text("Writing seals.jsonl.").wait_for(timeout=LONGEST_MS)
    context.close()
    jobs.tell("UPDATE jobs_job SET state = 'given up' WHERE id = %s RETURNING id", [number])


@pytest.mark.long
def test_an_export_is_made_beside_the_pages_and_saved(sign_on: SignOn, axe: Look, jobs: Jobs, tmp_path: Path) -> None:
    [(last, seal)] = jobs.tell("SELECT last_number, last_seal FROM ledger_head WHERE id = %s", [1])
    number = jobs.ask("export", {"movements": last, "seal": seal})
    page = sign_on("manager")
    page.goto(f"/books/long-work/{number}/")
    # Looking at it is enough: a process is started, and the page comes to the result by itself.
    link = page.get_by_role("link", name=f"Save ledger-{last}-")
    link.wait_for(timeout=LONGEST_MS)
    axe(page)
    shot(page, "done")
    with page.expect_download() as saved:
        link.click()
    saved.value.save_as(tmp_path / "ledger.zip")
    with zipfile.ZipFile(tmp_path / "ledger.zip") as archive:
        assert archive.testzip() is None
    assert jobs.row(number)["run"] == 1
    page.goto("/books/export/")
    shot(page, "export")
