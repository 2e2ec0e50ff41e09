"""A manager closes the sample month by browser alone, following only what each page says first.

Every click and every key is counted, and the steps are printed (`pytest -s`). At most 120 clicks and 400 keys; every
enquiry is answered, no second one is opened on an answered fact, and nothing is open afterwards that was not before.
The return figures of the month are those added up by hand here. Then a weight of the closed month is put right: the
same amount on account, register, both months' pages and prints. The clock goes on by a month, and April, which bears
it, is closed as well. The demonstration's month is invented.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

import pytest
from pypdf import PdfReader

from distillery.management.demonstration import GUESTS
from distillery.people.roles import MANAGER, STAFF
from tests.journeys.moved_clock import Clock
from tests.journeys.week import SITE_ZONE
from tests.running_site import Databases, run, serving_process

Look = Callable[[Any], None]
SignOn = Callable[[str], Any]

MOST_CLICKS, MOST_KEYS = 120, 400
MOST_LOOKS = 60
REGAUGE = "RG0009"
# The demonstration's books stand in the first days of April.
A_MONTH_ON = timedelta(days=31)
STATE = """
import json
from ledger.enquiries.looking import try_month
from ledger.enquiries.models import Enquiry
from ledger.enquiries.standing import unanswered
from ledger.periods.calendar import is_closed
found = [one.key for period in ("2027-03", "2027-04") for one in try_month(period).findings]
left = [one.number for period in ("2027-03", "2027-04") for one in unanswered(period)]
print("STATE" + json.dumps([found, left, Enquiry.objects.count(), is_closed("2027-03")]))
"""


@dataclass(slots=True)
class Hand:
    """Whoever sits at the PC: what they press and type is counted, and each step kept in words."""

    page: Any
    clicks: int = 0
    keys: int = 0
    steps: list[str] = field(default_factory=list)

    def press(self, what: Any, said: str) -> None:
        what.click()
        self.clicks += 1
        self._said(f"click {said}")

    def type(self, text: str, said: str) -> None:
        self.page.keyboard.type(text)
        self.keys += len(text)
        self._said(f"type {len(text)} keys: {said}")

    def key(self, name: str, said: str) -> None:
        self.page.keyboard.press(name)
        self.keys += 1
        self._said(f"{name}: {said}")

    def fill(self, label: str, text: str) -> None:
        self.press(self.page.get_by_label(label, exact=True), f"the box {label}")
        self.type(text, label)

    def _said(self, what: str) -> None:
        self.steps.append(f"{len(self.steps) + 1:3}  {what}")


@pytest.fixture(scope="module")
def database(demo_database: str, databases: Databases) -> str:
    return databases.copy_of(demo_database)


@pytest.fixture(scope="module")
def clock(tmp_path_factory: pytest.TempPathFactory) -> Clock:
    made = Clock(tmp_path_factory.mktemp("clock") / "ahead")
    made.move(datetime.now(tz=SITE_ZONE))
    return made


@pytest.fixture(scope="module")
def site(chromium: str, database: str, clock: Clock) -> Iterator[str]:
    with serving_process(database, command=clock.command) as (_, address):
        yield address


def state_of(database: str) -> list[Any]:
    import json

    done = run(database, "shell", "--no-imports", "-c", STATE)
    found = re.search(r"^STATE(.*)$", done.stdout, re.MULTILINE)
    assert found is not None, done.stdout + done.stderr
    state: list[Any] = json.loads(found[1])
    return state


def guest(role: str) -> Any:
    return next(one for one in GUESTS if one.role == role)


def test_the_month_is_closed_and_a_figure_put_right_after_it(page: Any, axe: Look, database: str, clock: Clock) -> None:
    found_before, open_before, enquiries_before, _ = state_of(database)
    assert len(open_before) == 3
    hand = Hand(page)
    _sign_on(hand)
    hand.press(page.get_by_role("link", name="Books", exact=True), "Books")
    hand.press(page.get_by_role("link", name="Next to close").first, "Next to close")
    hand.press(page.locator("main table").get_by_role("link", name=re.compile("EQ0001")).first, "EQ0001, in the way")
    _correct(hand, axe, "Correct the dip to 927", "Sheet has 927.")
    _correct(hand, axe, "Correct the hydrometer to 24.8", "Sheet has 24.8.")
    _end_as_lost(hand, axe)
    _close(hand, axe, "March 2027")

    print(f"\n{hand.clicks} clicks, {hand.keys} keys")
    print("\n".join(hand.steps))
    assert hand.clicks <= MOST_CLICKS
    assert hand.keys <= MOST_KEYS
    found, left, enquiries, closed = state_of(database)
    assert closed
    assert left == []
    assert enquiries == enquiries_before, "no second enquiry on an answered fact"
    assert set(found) <= set(found_before), "nothing is open that was not open before"
    _returned(page)
    _put_right_after_the_close(page)
    clock.move(datetime.now(tz=SITE_ZONE) + A_MONTH_ON)
    _close_the_next(Hand(page), axe)


def _sign_on(hand: Hand) -> None:
    page, one = hand.page, guest(MANAGER)
    page.goto("/sign-on/")
    hand.type(one.username, "name")
    hand.key("Tab", "to the password")
    hand.type(one.password, "password")
    hand.key("Enter", "sign on")
    page.wait_for_url(lambda url: "/sign-on/" not in url)


def _correct(hand: Hand, axe: Look, button: str, why: str) -> None:
    """The page's own first button, the reason, save; and on to what it says is next."""
    page = hand.page
    first = page.locator(".answer-first .buttons a").first
    assert first.inner_text() == button
    axe(page)
    with page.expect_navigation():
        hand.press(first, button)
    assert page.locator("details.rest").get_attribute("open") is None, "the rest of the sheet is folded away"
    axe(page)
    hand.type(why, "why it is put right")
    with page.expect_navigation():
        hand.key("F8", "save the correction")
    page.wait_for_url(re.compile(r"/books/enquiries/EQ\d{4}/"))
    following = _next_step(hand)
    assert "Put right by a correction" in page.locator("main").inner_text()
    with page.expect_navigation():
        hand.press(following, following.inner_text())


def _next_step(hand: Hand) -> Any:
    """What the page says is next."""
    return _once_compared(hand, hand.page.locator(".next-step a"))


def _once_compared(hand: Hand, wanted: Any) -> Any:
    """The page shows it by itself once the figures are compared; on a busy machine it is loaded again."""
    for look in range(1, MOST_LOOKS + 1):
        if wanted.count():
            break
        hand.page.wait_for_timeout(1_000)
        if look % 15 == 0:
            hand.key("F5", "load the page again, as it says")
            hand.page.reload()
    wanted.wait_for()
    return wanted


def _end_as_lost(hand: Hand, axe: Look) -> None:
    page, second = hand.page, guest(STAFF)
    first = page.locator(".answer-first .buttons a").first
    assert first.inner_text() == "Answer 10.90 LPA as lost"
    with page.expect_navigation():
        hand.press(first, first.inner_text())
    axe(page)
    hand.fill("What was checked", "Weighed again; a stave is wet.")
    hand.fill("Reason", "The cask leaks.")
    cause = page.get_by_label("Cause", exact=True)
    hand.press(cause, "the box Cause")
    cause.select_option("leakage" if cause.locator("option[value=leakage]").count() else "evaporation in cask")
    hand.clicks += 1
    hand.fill("Name of the second person", second.username)
    hand.fill("Password of the second person", second.password)
    with page.expect_navigation():
        hand.press(page.get_by_role("button", name="End it"), "End it")
    following = _next_step(hand)
    axe(page)
    assert following.inner_text() == "To the closing of March 2027"
    with page.expect_navigation():
        hand.press(following, following.inner_text())


def _close(hand: Hand, axe: Look, month: str) -> None:
    page, second = hand.page, guest(STAFF)
    remark = _once_compared(hand, page.locator("textarea[name=remark]"))
    hand.press(remark, "the box Remark")
    hand.type("Both fermentations go on into April.", "Remark")
    with page.expect_navigation():
        hand.press(page.get_by_role("button", name=f"Ask to close {month}"), f"Ask to close {month}")
    axe(page)
    names = page.locator("form:has(input[name=request]) input:visible")
    hand.press(names.nth(0), "the second person's name")
    hand.type(second.username, "their name")
    hand.press(names.nth(1), "their password")
    hand.type(second.password, "their password")
    with page.expect_navigation():
        hand.press(page.get_by_role("button", name="Sign as the second person"), "Sign as the second person")
    page.get_by_text(f"{month} is closed").first.wait_for()
    axe(page)


def _returned(page: Any) -> None:
    """Duty-paid and exported, as added up by hand: RM0001 and RM0003 are 360 and 420 bottles of 70 cl at 41.4 % vol for
    home use, so 780 x 0.7 = 546 L and 546 x 0.414 = 226.044 LPA; RM0002 is 240 for export, so 168 L and 69.552 LPA.
    """
    page.goto("/books/returns/2027-03/")
    cells = [row.split("\t") for row in page.locator("main table tbody tr").all_inner_texts()]
    [home] = [row for row in cells if row[0] == "345"]
    assert home[1:3] == ["546.00", "226.0440"]
    [outside] = [row for row in cells if row[0].casefold() == "dispatched outside the uk"]
    assert outside[1:3] == ["168.00", "69.5520"]
    printed = _printed(page, "/books/returns/2027-03/figures.pdf")
    assert "546.00 226.0440" in printed
    assert "168.00 69.5520" in printed


def _close_the_next(hand: Hand, axe: Look) -> None:
    """April, a month later: nothing of it but what was carried over the close, and its opening is March's closing."""
    page = hand.page
    page.context.clear_cookies()
    _sign_on(hand)
    hand.press(page.get_by_role("link", name="Books", exact=True), "Books")
    hand.press(page.get_by_role("link", name="Next to close").first, "Next to close")
    page.wait_for_url("**/books/months/2027-04/close/")
    _close(hand, axe, "April 2027")
    print(f"April: {hand.clicks} clicks, {hand.keys} keys")
    page.goto("/books/months/2027-03/")
    *_, closing, _ = page.locator("dl.balance-line dd").all_inner_texts()
    page.goto("/books/months/2027-04/")
    assert _row(page, "brought")
    opening = page.locator("dl.balance-line dd").first.inner_text()
    assert opening == closing != ""


def _put_right_after_the_close(page: Any) -> None:
    page.goto(f"/records/regauge/{REGAUGE}/correct/")
    box = page.locator("[name=gross_kg]")
    box.fill(f"{float(box.input_value()) - 0.2:.1f}")
    page.fill("[name=reason]", "Read again from the sheet.")
    page.locator("[data-save]").first.click()
    page.wait_for_url(re.compile(rf"/records/regauge/{REGAUGE}/$"))

    page.goto("/books/months/2027-03/")
    sent = _row(page, "carried")
    page.goto("/books/months/2027-04/")
    brought = _row(page, "brought")
    assert sent[5:9] == brought[5:9]
    lost = sent[7]
    assert float(lost) > 0.0
    print(f"{REGAUGE} put right after the close: {lost} LPA of known losses; {sent}")
    assert _figure(page, "losses", "Evaporation in cask") == lost, "the account of the month that bears it"
    page.goto("/books/losses/?month=2027-04")
    # The register lists losses and what was booked back apart, never netted: each rounded by itself, they come to it.
    lines = page.locator("main table tr", has_text=REGAUGE).all_inner_texts()
    amounts = [float(one.split("\t")[7].replace("\u2212", "-")) for one in lines]
    assert len(amounts) == 2
    assert abs(sum(amounts) - float(lost)) < 0.011
    register = _printed(page, "/books/losses/2027-04/register.pdf")
    assert all(f"{abs(one):.2f}" in register for one in amounts)
    for address in ("/books/months/2027-03/account.pdf", "/books/months/2027-04/account.pdf"):
        assert re.search(rf"{REGAUGE}[^R]*{re.escape(lost)}", _printed(page, address)), address


def _figure(page: Any, table: str, name: str) -> str:
    row = page.locator(f"table:has(caption#{table}-caption) tbody tr", has_text=name)
    figure: str = row.first.locator("th, td").nth(1).inner_text()
    return figure


def _row(page: Any, table: str) -> list[str]:
    row = page.locator(f"table:has(caption#{table}-caption) tbody tr", has_text=REGAUGE)
    cells: list[str] = row.first.locator("th, td").all_inner_texts()
    return cells


def _printed(page: Any, address: str) -> str:
    answer = page.request.get(address)
    assert answer.status == 200
    return " ".join(" ".join(one.extract_text() for one in PdfReader(io.BytesIO(answer.body())).pages).split())
