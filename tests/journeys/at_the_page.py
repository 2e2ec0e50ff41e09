"""What several journeys do at a sheet: read the books' clock, write a gauge, answer what is asked."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from playwright.sync_api import expect


def clock_of(page: Any) -> datetime:
    shown = page.locator(".books-clock time").get_attribute("datetime")
    return datetime.fromisoformat(shown)


def typed(at: datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M}"


def gauge(page: Any, prefix: str, values: tuple[str, str, str]) -> None:
    for part, value in zip(("dip_mm", "celsius", "hydrometer_percent"), values, strict=True):
        page.locator(f"[name={prefix}_{part}]").fill(value)


def keep_as_typed(page: Any) -> None:
    """Answers what is asked before saving with what was typed."""
    while (question := page.locator(".question")).count():
        said = question.first.inner_text()
        question.first.get_by_role("button").first.click()
        # Addresses change without a new page, so the answer is known by what it says.
        expect(page.locator(".question").filter(has_text=said.splitlines()[0])).to_have_count(0)
        page.locator("h1").first.wait_for()
