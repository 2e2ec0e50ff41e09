"""A month's page and its print say the same things about its figures."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from distillery.figures import ROUNDING, lpa
from distillery.pages import Link
from distillery.people.models import Person
from ledger.statements.monthly import told
from ledger.statements.monthly.reading import month_read

PERIOD = "2027-03"

Browser = Callable[[Person], Client]


def text_of(pdf: bytes) -> str:
    return " ".join("\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


@pytest.mark.usefixtures("loaded_month")
def test_page_and_print_say_in_one_sentence_why_rounded_figures_need_not_add_up(
    browser_of: Browser, officer: Person
) -> None:
    client = browser_of(officer)
    assert ROUNDING in client.get(f"/books/months/{PERIOD}/").content.decode()
    assert ROUNDING in text_of(client.get(f"/books/months/{PERIOD}/account.pdf").content)


@pytest.mark.usefixtures("loaded_month")
class TestTheMonthAsAManagerReadsIt:
    @pytest.fixture
    def page(self, browser_of: Browser, manager: Person) -> str:
        return browser_of(manager).get(f"/books/months/{PERIOD}/").content.decode()

    def test_what_blocks_the_close_stands_before_any_figure(self, page: str) -> None:
        first = page.index("Before March 2027 can close: ")
        assert first < page.index("balance-line") < page.index("By place")
        blocks = page[first : page.index("</ol>", first)]
        # Three enquiries (SR0007, WR0012, RG0007) must be answered; two washbacks ferment on.
        assert re.findall(r">Answer (EQ\d+)</a>", blocks) == ["EQ0001", "EQ0002", "EQ0003"]
        assert blocks.count("Needs a remark") == 2
        assert "Alcohol Duty return due" in page
        assert "Thu 15 Apr 2027" in page

    def test_places_are_the_same_on_page_paper_and_in_data(
        self, page: str, browser_of: Browser, manager: Person, capsys: pytest.CaptureFixture[str]
    ) -> None:
        printed = text_of(browser_of(manager).get(f"/books/months/{PERIOD}/account.pdf").content)
        capsys.readouterr()
        call_command("month_account", PERIOD, "--json")
        data = json.loads(capsys.readouterr().out)
        month = month_read(PERIOD)
        for line, told_of in zip(month.places, data["places"], strict=True):
            assert told_of["place"] == line.stage
            assert round(told_of["closing_lpa"] * 1e6) == line.closing_ul
            for figure in (line.in_ul, line.closing_ul):
                assert lpa(figure) in page
                assert lpa(figure) in printed
        gauged, by_book = month.known_in_all.gauged_ul, month.known_in_all.book_ul
        assert f"{lpa(gauged)} LPA were gauged in this month, {lpa(by_book)} LPA stand by book." in page
        assert lpa(by_book) in printed
        assert sum(one["by_book_lpa"] for one in data["known"]) == pytest.approx(by_book / 1e6)
        assert data["yields"][0]["malt_kg"] == 40_000
        assert [one["day"] for one in data["returns_due"]] == ["2027-04-14", "2027-04-15"]

    def test_who_looks_twice_asks_little(self, browser_of: Browser, manager: Person) -> None:
        client = browser_of(manager)
        client.get(f"/books/months/{PERIOD}/")
        with CaptureQueriesContext(connection) as asked:
            client.get(f"/books/months/{PERIOD}/")
        assert len(asked) <= 20

    def test_another_room_may_lead_on_from_a_month(
        self, browser_of: Browser, manager: Person, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(told, "WAYS", [lambda period: Link("Figures of its return", f"/returns/{period}/")])
        page = browser_of(manager).get(f"/books/months/{PERIOD}/").content.decode()
        assert f'<a href="/returns/{PERIOD}/">Figures of its return</a>' in page

    def test_entries_written_late_have_a_list(self, browser_of: Browser, manager: Person) -> None:
        page = browser_of(manager).get(f"/books/movements/?month={PERIOD}&state=late").content.decode()
        # The sample month was typed in before its day by the books' clock, so none of it is late.
        assert "No movements match." in page
