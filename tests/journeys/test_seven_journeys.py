"""Seven ways through the site that its people walk every day, on the real server with a real browser.

Each page on the way is looked over for accessibility. The demonstration's month is invented.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from typing import Any

from pypdf import PdfReader

Look = Callable[[Any], None]
SignOn = Callable[[str], Any]


def fill(page: Any, values: dict[str, str]) -> None:
    """Types into the boxes of a sheet; a choice is made by its value."""
    for name, value in values.items():
        box = page.locator(f"[name='{name}']")
        if box.evaluate("box => box.tagName") == "SELECT":
            box.select_option(value)
        else:
            box.fill(value)


def save(page: Any) -> None:
    page.locator("main form button[type=submit], main form button:not([type])").filter(
        has_text=re.compile("save|correct", re.IGNORECASE)
    ).first.click()


def say_why_late(page: Any) -> None:
    """Answers why something is written only now."""
    page.get_by_role("button", name="Other work came first").click()


def test_sign_on(page: Any, sign_on: SignOn, axe: Look) -> None:
    page.goto("/")
    assert "/sign-on/" in page.url
    axe(page)
    sign_on("staff")
    assert page.locator("h1").inner_text() == "This shift"
    axe(page)


def test_enter_a_mash(sign_on: SignOn, axe: Look) -> None:
    page = sign_on("staff")
    page.goto("/records/mash/new/")
    axe(page)
    # What belongs to a later moment is folded away until it is wanted.
    page.get_by_text("Write the rest now").click()
    fill(
        page,
        {
            "started_at": "2027-03-31T06:00",
            "ended_at": "2027-03-31T10:40",
            "malt_lot": "M010",
            "grist_kg": "2000",
            "husk_percent": "20.1",
            "grits_percent": "70.2",
            "flour_percent": "9.7",
            "water1_litres": "7800",
            "water1_celsius": "63.5",
            "water2_litres": "3200",
            "water2_celsius": "75.8",
            "water3_litres": "6400",
            "water3_celsius": "86.1",
            "wort_litres": "9600",
            "wort_gravity": "1.0612",
            "wort_celsius": "17.9",
            "washback": "WB3",
        },
    )
    save(page)
    say_why_late(page)
    page.wait_for_url(re.compile(r"/records/mash/MA0023/"))
    assert "MA0023" in page.locator("h1").inner_text()
    page.get_by_text("1.0612").first.wait_for()
    page.get_by_role("link", name=re.compile("M010")).first.wait_for()
    axe(page)


RUN = {
    "still": "SS1",
    "charged_at": "2027-03-31T08:00",
    "spirit_receiver": "SR",
    "feints_receiver": "FR",
    "low_wines_before_dip_mm": "35",
    "low_wines_before_celsius": "20.8",
    "low_wines_before_hydrometer_percent": "24.9",
    "feints_before_dip_mm": "513",
    "feints_before_celsius": "19.2",
    "feints_before_hydrometer_percent": "35.7",
    "low_wines_after_dip_mm": "33",
    "low_wines_after_celsius": "20.8",
    "low_wines_after_hydrometer_percent": "24.9",
    "feints_after_dip_mm": "16",
    "feints_after_celsius": "19.2",
    "feints_after_hydrometer_percent": "35.7",
    "spirit_before_dip_mm": "497",
    "spirit_before_celsius": "17.6",
    "spirit_before_hydrometer_percent": "69.6",
}


def test_a_spirit_run_with_a_mistake_is_refused_in_a_sentence_and_put_right(sign_on: SignOn, axe: Look) -> None:
    page = sign_on("staff")
    page.goto("/records/spirit_run/new/")
    axe(page)
    fill(page, RUN | {"spirit_before_dip_mm": "49700"})
    save(page)
    summary = page.locator(".error-summary")
    assert "1 thing to put right" in summary.inner_text()
    assert re.search(r"49,?700", summary.inner_text())
    assert page.title().startswith("Error:")
    assert page.locator("[name='spirit_before_dip_mm']").input_value() == "49700"
    assert page.locator("[name='spirit_before_celsius']").input_value() == "17.6"
    axe(page)
    page.locator("[name='spirit_before_dip_mm']").fill("497")
    save(page)
    say_why_late(page)
    page.wait_for_url(re.compile(r"/records/spirit_run/SR0021/"))
    axe(page)


BACKWARDS = (r"\bM0", r"\bMA", r"\bFE", r"\bWR", r"\bSR", r"\bTR", r"\bRE", r"\bOV")


def test_open_a_cask_and_walk_back_to_its_malt(sign_on: SignOn, axe: Look) -> None:
    page = sign_on("staff")
    page.goto("/warehouse/")
    axe(page)
    page.goto("/casks/2027/0001/")
    axe(page)
    with page.expect_navigation():
        page.locator("main").get_by_role("link", name=re.compile("CF0001")).first.click()
    came_from = page.locator("section[aria-labelledby='came-from']")
    walked = []
    while not re.search(r"\bM0\d\d\b", page.locator("h1").inner_text()):
        axe(page)
        names = came_from.get_by_role("link").all_inner_texts()
        # Feints go round, so the way back is the kind of record that stands earliest in the process.
        back = next(name for kind in BACKWARDS for name in names if re.search(kind, name))
        walked.append(back)
        assert len(walked) < 12, walked
        with page.expect_navigation():
            came_from.get_by_role("link", name=back, exact=True).first.click()
    assert [name[:2] for name in walked[-4:]] == ["WR", "FE", "MA", walked[-1][:2]]
    axe(page)


def test_open_the_finding(sign_on: SignOn, axe: Look) -> None:
    page = sign_on("manager")
    page.goto("/books/findings/?month=2027-03")
    axe(page)
    with page.expect_navigation():
        page.get_by_role("link", name="SR0007").first.click()
    text = page.locator("main").inner_text()
    assert "827" in text
    assert "Spirit receiver after: the dip" in text
    axe(page)


def test_open_the_month(sign_on: SignOn, axe: Look) -> None:
    page = sign_on("officer")
    page.goto("/books/")
    with page.expect_navigation():
        page.get_by_role("link", name="March 2027").click()
    assert "Every line foots" in page.locator("main").inner_text()
    axe(page)


def test_download_the_months_pdf(sign_on: SignOn) -> None:
    page = sign_on("officer")
    page.goto("/books/months/2027-03/")
    with page.expect_download() as started:
        page.get_by_role("link", name="Account (PDF)").click()
    with open(started.value.path(), "rb") as file:
        reader = PdfReader(io.BytesIO(file.read()))
    words = " ".join(one.extract_text() for one in reader.pages)
    assert "Monthly stock account" in words
    assert f"Page {len(reader.pages)} of {len(reader.pages)}" in words
