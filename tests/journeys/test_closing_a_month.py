"""Two people close a month on the real server, by keyboard; afterwards a correction stands in the next one.

The demonstration's month is invented; its enquiries are answered beforehand, which is another journey's matter.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from pypdf import PdfReader

from tests.running_site import Databases, run, serving

Look = Callable[[Any], None]
SignOn = Callable[[str], Any]

ANSWERS = """
from distillery.people.models import Person
from ledger.enquiries import unanswered
from ledger.enquiries.answering import Proposal, agree, propose
from ledger.enquiries.models import Ending
one, other = Person.objects.get(username="isla"), Person.objects.get(username="brodie")
for enquiry in unanswered("2027-03"):
    proposal = Proposal(Ending.NOT_FOUND, checked="all gauges read again", reason="nothing was found")
    propose(enquiry, proposal, person=one)
    agree(enquiry, second=other)
assert not unanswered("2027-03")
"""


@pytest.fixture(scope="module")
def site(chromium: str, demo_database: str, databases: Databases) -> Iterator[str]:
    url = databases.copy_of(demo_database)
    done = run(url, "shell", "--no-imports", "-c", ANSWERS)
    assert done.returncode == 0, done.stdout + done.stderr
    with serving(url) as address:
        yield address


def to(page: Any, name: str) -> None:
    """Goes on with the Tab key until something with this name has the focus."""
    for _ in range(120):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.innerText || ''").strip() == name:
            return
    raise AssertionError(f"The keyboard does not come to {name}.")


def test_two_people_close_a_month_and_a_figure_is_put_right_after_it(sign_on: SignOn, page: Any, axe: Look) -> None:
    sign_on("manager")
    page.goto("/books/")
    axe(page)
    to(page, "Next to close")
    page.keyboard.press("Enter")
    page.wait_for_url("**/books/months/2027-03/close/")
    text = page.locator("main").inner_text()
    assert "Fermentation FE0021" in text
    assert "can be closed with a remark" in text
    axe(page)
    to(page, "Ask to close March 2027")
    page.keyboard.press("Enter")
    page.locator(".error-summary").wait_for()
    assert "Say why it is closed all the same" in page.locator(".error-summary").inner_text()
    axe(page)
    page.locator("textarea[name=remark]").focus()
    page.keyboard.type("Both fermentations go on into April.")
    to(page, "Ask to close March 2027")
    page.keyboard.press("Enter")
    page.get_by_text("Another person who is signed on has to agree.").first.wait_for()
    assert page.get_by_role("button", name="Agree and close March 2027").count() == 0
    axe(page)

    page.get_by_role("button", name="Sign off").click()
    page.wait_for_url("**/sign-on/**")
    sign_on("staff")
    page.goto("/books/months/2027-03/close/")
    assert "Isla Venmore asked" in page.locator("main").inner_text()
    axe(page)
    to(page, "Agree and close March 2027")
    page.keyboard.press("Enter")
    page.get_by_text("March 2027 is closed").first.wait_for()
    digest = page.locator("main p.code").inner_text()
    assert re.fullmatch("[0-9a-f]{64}", digest)
    axe(page)

    page.goto("/books/months/2027-03/")
    assert "Closed by Isla Venmore and Brodie Catterwell" in page.locator("main").inner_text()
    figures = page.locator("table").first.inner_text()
    axe(page)
    with page.expect_download() as started:
        page.get_by_role("link", name="Account (PDF)").click()
    with open(started.value.path(), "rb") as file:
        words = " ".join(one.extract_text() for one in PdfReader(io.BytesIO(file.read())).pages)
    assert digest in "".join(words.split())

    page.goto("/records/spirit_run/SR0009/correct/")
    page.fill("[name=spirit_after_dip_mm]", _one_more(page.locator("[name=spirit_after_dip_mm]").input_value()))
    page.fill("[name=reason]", "Read again from the sheet")
    page.locator("main form button").filter(has_text=re.compile("correct", re.IGNORECASE)).first.click()
    page.wait_for_url(re.compile(r"/records/spirit_run/SR0009/$"))
    page.get_by_text(re.compile("^In the books")).click()
    assert "its period was closed, so the books carry it from Thu 1 Apr 2027 00:00" in page.locator("main").inner_text()
    axe(page)
    page.goto("/books/months/2027-03/")
    assert page.locator("table").first.inner_text() == figures
    page.goto("/books/months/2027-04/")
    assert "Every line foots" in page.locator("main").inner_text()


def _one_more(millimetres: str) -> str:
    return str(int(millimetres) + 1)
