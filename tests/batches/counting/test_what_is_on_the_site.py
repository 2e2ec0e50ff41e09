"""The list of stock at the end of a day: by command, page and file, against the books and the sample month."""

from __future__ import annotations

import json
from datetime import date, timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from batches.counting.on_site import NotADay, StockOn
from distillery.clock.reading import books_today
from distillery.people.models import Person
from ledger.statements.month import month_account

pytestmark = pytest.mark.django_db
KEYS = {"place", "litres", "percent", "lpa", "basis", "at"}


def listed(*arguments: str) -> dict[str, list[dict[str, object]]]:
    said = StringIO()
    call_command("stock_list", "--json", *arguments, stdout=said)
    found: dict[str, list[dict[str, object]]] = json.loads(said.getvalue())
    return found


class TestCommand:
    def test_it_adds_up_to_the_account_of_the_month(self, loaded_month) -> None:
        found = listed("--on", "2027-03-31")
        assert set(found) == {"vessels", "casks", "bottled"}
        assert all(one.keys() >= KEYS for each in found.values() for one in each)
        closing = {one.stage: one.closing_ul for one in month_account("2027-03").stages}
        casks = sum(round(float(str(one["lpa"])) * 1_000_000) for one in found["casks"])
        assert casks == closing["maturing in cask"]
        bottled = sum(round(float(str(one["lpa"])) * 1_000_000) for one in found["bottled"])
        assert bottled == closing["bottled under bond"]
        every = sum(round(float(str(one["lpa"])) * 1_000_000) for each in found.values() for one in each)
        assert every == month_account("2027-03").site.closing_ul

    def test_each_says_how_it_is_known_and_since_when(self, loaded_month) -> None:
        found = listed("--on", "2027-03-31")
        vessels = {one["vessel"]: one for one in found["vessels"]}
        # Dipped at the stock take of the sample month (stock_take.csv); FE0021 went into WB1 and ferments.
        assert (vessels["SV"]["basis"], vessels["SV"]["at"]) == ("gauged", "2027-03-31T06:00:00+01:00")
        assert (vessels["WB1"]["basis"], vessels["WB1"]["lpa"], vessels["WB1"]["percent"]) == ("book", 0.0, None)
        # regauges.csv has twelve casks, cask_fills.csv 74 that were weighed as they were filled.
        assert [one["basis"] for one in found["casks"]].count("gauged") == 12 + 74
        [gin] = found["bottled"]
        assert (gin["lot"], gin["bottles"], gin["basis"]) == ("L27066", 490, "book")
        # 490 bottles of 70 cl at 41.4 %: 343 litres, 142.002 litres of pure alcohol.
        assert (gin["litres"], gin["percent"], gin["lpa"]) == (343.0, 41.4, 142.002)

    def test_an_earlier_day_is_as_it_was(self, loaded_month) -> None:
        now, before = listed("--on", "2027-03-31"), listed("--on", "2027-03-06")
        assert len(before["casks"]) < len(now["casks"])
        # The first bottling was on 7 March (bottlings.csv); on the 6th there were what the books opened with, less
        # what had left.
        assert all(one["lot"] == "" for one in before["bottled"])

    def test_a_day_that_cannot_be_is_refused_in_a_sentence(self, loaded_month) -> None:
        with pytest.raises(CommandError, match="is not a day"):
            call_command("stock_list", "--on", "31 March")
        with pytest.raises(NotADay, match="still to come"):
            StockOn(books_today() + timedelta(days=1))
        with pytest.raises(NotADay, match="before any site"):
            StockOn(date(1, 1, 1))

    def test_as_text_it_has_its_sums(self, loaded_month) -> None:
        said = StringIO()
        call_command("stock_list", "--on", "2027-03-31", stdout=said)
        text = said.getvalue()
        assert text.startswith("Stock on Wed 31 Mar 2027\n")
        assert "102,602.95" in text
        assert "L27066" in text


class TestPages:
    def test_the_page_says_what_is_wrong_with_a_day_and_shows_today(
        self, loaded_month, staff: Person, browser_of
    ) -> None:
        here = browser_of(staff)
        page = here.get("/stock/?on=31.3.").content.decode()
        assert "is not a day; write it as 2027-03-31." in page
        assert "Spirit vat" in page
        assert "3,998.26" in here.get("/stock/?on=2027-03-31").content.decode()

    def test_the_casks_of_a_day_are_streamed_and_asked_for_in_few_questions(
        self, loaded_month, officer: Person, browser_of, django_assert_max_num_queries
    ) -> None:
        here = browser_of(officer)
        here.get("/stock/casks/")
        with django_assert_max_num_queries(15):
            here.get("/stock/casks/")
        answer = here.get("/stock/casks/?casks-as=csv&on=2027-03-31")
        lines = b"".join(answer.streaming_content).decode("utf-8-sig").strip().splitlines()
        assert len(lines) == 1 + len(listed("--on", "2027-03-31")["casks"])
