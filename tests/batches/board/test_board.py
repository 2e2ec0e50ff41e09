"""The board: its span of months, and that every figure on it is one of the books."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable

import pytest
from django.db.models import Sum
from django.test import Client
from pypdf import PdfReader

from batches.board.reading import board, span_of
from batches.distilling.mashes import together
from batches.pages.board.tables import plain
from distillery.people.models import Person
from distillery.plant.models import MICRO, Kind
from distillery.printing.digest import digest_of
from ledger.models import Balance
from ledger.proof.checking import Asked, check
from ledger.statements.month import month_account

PERIOD = "2027-03"
KNOWN = [f"2027-{month:02}" for month in range(12, 0, -1)] + [f"2026-{month:02}" for month in range(12, 0, -1)]

Browser = Callable[[Person], Client]


class TestTheSpan:
    def test_the_last_twelve_months_at_first(self) -> None:
        span = span_of(KNOWN, "", "")
        assert span is not None
        assert (span.first, span.last, span.words) == ("2027-01", "2027-12", ())

    def test_twelve_months_up_to_the_one_asked_for(self) -> None:
        span = span_of(KNOWN, "", "2027-03")
        assert span is not None
        assert (span.first, span.last) == ("2026-04", "2027-03")

    def test_no_month_of_these_books_is_left_out_with_a_word(self) -> None:
        span = span_of(KNOWN, "1999-01", "2027-02")
        assert span is not None
        assert span.last == "2027-02"
        assert span.words == ("'1999-01' is no month of these books, so it is left out.",)

    def test_the_wrong_way_round_is_changed_over(self) -> None:
        span = span_of(KNOWN, "2027-05", "2027-02")
        assert span is not None
        assert (span.first, span.last) == ("2027-02", "2027-05")
        assert len(span.words) == 1

    def test_nothing_before_the_first_month(self) -> None:
        assert span_of([], "2027-01", "") is None


@pytest.mark.django_db
def test_a_site_without_entries_is_told_so(manager: Person, browser_of: Browser) -> None:
    client = browser_of(manager)
    assert "The board begins with the first month." in client.get("/board/").content.decode()
    assert client.get("/board/board.pdf").status_code == 404


@pytest.mark.usefixtures("loaded_month")
class TestTheSampleMonth:
    def test_stock_and_losses_are_those_of_the_account(self) -> None:
        found = board("", "")
        assert found is not None
        (month,) = found.months
        account = month_account(PERIOD)
        assert month.stages == {line.stage: line.closing_ul for line in account.stages}
        assert month.held_ul == account.site.closing_ul
        assert month.lost_ul == account.site.loss_ul
        assert month.difference_ul == account.site.difference_ul

    def test_mashes_beside_what_their_malt_promised(self) -> None:
        found = board(PERIOD, PERIOD)
        assert found is not None
        first, last = found.mashes[0], found.mashes[-1]
        # 807.907862 LPA declared of 2 t (worked by hand): 403.953931 LPA a tonne; its intake promised 412.3.
        assert first.reached == pytest.approx(403.953931)
        assert first.promised == pytest.approx(412.3)
        assert first.efficiency == pytest.approx(100 * 403.953931 / 412.3)
        assert (last.number, last.reached) == ("MA0022", None), "its wash is not declared yet"
        summed = together(found.mashes)
        assert (summed.count, summed.malt_g) == (20, 40_000_000)

    def test_casks_by_age_hold_what_all_casks_hold(self) -> None:
        found = board("", "")
        assert found is not None
        casks = Balance.objects.filter(account__vessel__kind=Kind.CASK, balance_ul__gt=0)
        assert sum(one.casks for one in found.ages) == casks.count()
        assert sum(one.held_ul for one in found.ages) == casks.aggregate(held=Sum("balance_ul"))["held"]
        for one in found.ages:
            assert one.least_ul is not None
            assert one.most_ul is not None
            assert one.least_ul <= one.most_ul <= one.filled_ul
        # A cask of eight years in a band of 1.5 to 3 % keeps 0.97^8.5 to 0.985^8 or more: none keeps less than 0.75.
        assert all((one.least_ul or 0) > 0.75 * one.filled_ul for one in found.ages)

    def test_the_page_its_files_and_its_print(self, officer: Person, browser_of: Browser) -> None:
        client = browser_of(officer)
        page = client.get(f"/board/?from={PERIOD}&to={PERIOD}").content.decode()
        assert page.count("<svg") == 5
        assert "Stock by stage, at the end of each month" in page
        assert f"{month_account(PERIOD).site.closing_ul / MICRO:,.2f}" in page
        text = b"".join(client.get(f"/board/?from={PERIOD}&losses-as=csv")).decode()
        rows = list(csv.reader(io.StringIO(text)))
        assert rows[0][0] == "Month"
        assert rows[1][rows[0].index("Together LPA")] == f"{month_account(PERIOD).site.loss_ul / MICRO:.2f}"
        printed = client.get("/board/board.pdf")
        words = " ".join(" ".join(one.extract_text() for one in PdfReader(io.BytesIO(printed.content)).pages).split())
        assert "Casks by age" in words
        assert "Pot ale" in words

    def test_its_print_is_known_by_its_months_and_digest(self, officer: Person, browser_of: Browser) -> None:
        client = browser_of(officer)
        printed = client.get(f"/board/board.pdf?from={PERIOD}&to={PERIOD}")
        words = " ".join(" ".join(one.extract_text() for one in PdfReader(io.BytesIO(printed.content)).pages).split())
        found = board(PERIOD, PERIOD)
        assert found is not None
        digest = digest_of(plain(found))
        assert digest in "".join(words.split())
        (checked,) = check(Asked(digest, f"{PERIOD} to {PERIOD}"))
        assert checked.agrees
        # What was printed is known whatever is typed as its number; what was not is not.
        assert [one.agrees for one in check(Asked(digest, "1999-01 to 2000-01"))] == [True]
        assert check(Asked("0123456789abcdef", "1999-01 to 2000-01")) == []

    def test_a_month_that_is_none_is_said(self, officer: Person, browser_of: Browser) -> None:
        page = browser_of(officer).get("/board/?from=1999-01&to=%3Cb%3E").content.decode()
        assert "&#x27;1999-01&#x27; is no month of these books" in page
        assert "<b>" not in page
