"""A month by place, by how its figures are known, and by cause with gains apart. Amounts are worked by hand."""

from __future__ import annotations

from datetime import date

import pytest
from django.db.models import Sum

from distillery.people.models import Person
from distillery.plant.models import Kind, Stage
from distillery.rules.models import ReportingDuty
from distillery.seals.writing import signed
from ledger.enquiries.answering import Proposal, agree, propose
from ledger.enquiries.balance import open_of
from ledger.enquiries.models import Ending, Enquiry
from ledger.enquiries.standing import unanswered, unanswered_up_to
from ledger.models import AccountKind, AccountMonth, Balance, StageMonth
from ledger.periods.calendar import Calendar
from ledger.posting.accounts import difference, vessel_account
from ledger.posting.post import correct, post
from ledger.statements.month import month_account
from ledger.statements.monthly.due import returns_due
from ledger.statements.monthly.earlier import month_lines, stage_closings
from ledger.statements.monthly.losses import differences_by_month, losses_by_month
from ledger.statements.monthly.reading import MonthRead, month_read

from . import plant

PERIOD = "2027-03"
LITRE = 1_000_000
FIGURES = ("opening_ul", "in_ul", "out_ul", "loss_ul", "difference_ul", "closing_ul")


def of_place(month: MonthRead, name: str) -> tuple[float, ...]:
    line = next(one for one in month.places if one.stage == name)
    return tuple(getattr(line, figure) / LITRE for figure in FIGURES)


def known(month: MonthRead, name: str) -> tuple[int, float, float]:
    line = next(one for one in month.known if one.place == name)
    return line.gauged, line.gauged_ul / LITRE, line.book_ul / LITRE


@signed("tests")
def rule(operation: str, occasion: str, days: int, since: date) -> None:
    ReportingDuty.objects.create(
        operation=operation,
        occasion=occasion,
        said="a return",
        by_whom="producer",
        until="some days on",
        within_days=days,
        from_day=since,
        source="tests",
    )


@pytest.mark.django_db
class TestByHand:
    @pytest.fixture
    def moved(self, manager: Person) -> None:
        """A receiver of 100 LPA and a vat of 50; 60 leave the one by gauge and 59 reach the other; 3 are lost."""
        receiver = plant.vessel("SR", kind=Kind.RECEIVER, stage=Stage.NEW_SPIRIT)
        vat = plant.vessel("VAT", kind=Kind.VAT, stage=Stage.NEW_SPIRIT)
        post(plant.opening(receiver, 100.0), person=manager)
        post(plant.opening(vat, 50.0), person=manager)
        apart = difference("transfer")
        lines = (plant.left(receiver, 40.0, apart), plant.left(vat, 109.0, apart))
        post(plant.draft("transfer", "TR1", 1, *lines), person=manager)
        spilt = plant.Moved(vessel_account(vat), plant.loss("spill"), plant.quantity(3.0))
        post(plant.draft("transfer", "TR2", 2, spilt), person=manager)

    def test_what_passes_between_places(self, moved: None) -> None:
        month = month_read(PERIOD)
        # Opened in the month: 100 in, 60 out, 40 left. The vat: 50 + 60 in, 3 lost, 1 missing, 106 left.
        opening = sum(line.opening_ul for line in month.places)
        assert opening in (0, 150 * LITRE), "opening stock is of the month before, or of this one"
        house, vats = of_place(month, "Still house"), of_place(month, "Vats")
        assert house[0] + house[1] == 100.0
        assert house[2:] == (60.0, 0.0, 0.0, 40.0)
        assert vats[0] + vats[1] == 110.0
        assert vats[2:] == (0.0, 3.0, 1.0, 106.0)

    def test_a_correction_leaves_no_way_of_its_own(self, moved: None, manager: Person) -> None:
        before = month_read(PERIOD).places
        vat, receiver = (plant.vessel(code) for code in ("VAT", "SR"))
        apart = difference("back")
        once = post(
            plant.draft("transfer", "TR3", 3, plant.left(vat, 96.0, apart), plant.left(receiver, 50.0, apart)),
            person=manager,
        )
        there = month_read(PERIOD)
        assert of_place(there, "Still house")[5] == 50.0
        correct([once], [], person=manager, reason="never happened")
        assert month_read(PERIOD).places == before

    def test_missing_and_over_are_not_set_off(self, moved: None, manager: Person) -> None:
        vat = plant.vessel("VAT")
        # A later gauge finds 4 more than the book.
        post(plant.draft("check", "CH1", 4, plant.found(vat, 110.0)), person=manager)
        causes = month_read(PERIOD).causes
        assert [(one.name, one.missing_ul, one.over_ul) for one in causes.losses] == [("spill", 3 * LITRE, 0)]
        amounts = {one.name: (one.missing_ul, one.over_ul) for one in causes.differences}
        assert amounts["difference, transfer"] == (LITRE, 0)
        assert amounts["difference, gauging of VAT"] == (0, 4 * LITRE)

    def test_gauged_or_by_book(self, moved: None, manager: Person) -> None:
        cask = plant.vessel("C1", kind=Kind.CASK, stage=Stage.MATURING)
        vat = vessel_account(plant.vessel("VAT"))
        post(
            plant.draft("fill", "CF1", 5, plant.Moved(vat, vessel_account(cask), plant.quantity(20.0))), person=manager
        )
        month = month_read(PERIOD)
        # The fill was weighed by nobody, so the cask stands by its book; both vessels were gauged.
        assert known(month, "Warehouse") == (0, 0.0, 20.0)
        assert known(month, "Vats") == (1, 86.0, 0.0)
        assert month.known_in_all.closing_ul == month.account.site.closing_ul
        post(plant.draft("regauge", "RG1", 6, plant.found(cask, 19.0)), person=manager)
        assert known(month_read(PERIOD), "Warehouse") == (1, 19.0, 0.0)


@pytest.mark.django_db
class TestUntilWhenAReturnIsDue:
    def test_the_fifteenth_of_the_next_month(self) -> None:
        # GOV.UK, Alcoholic products technical guide, section 5.1: the 15th of the month after.
        found = [one for one in returns_due(date(2027, 3, 31)) if one.said == "Alcohol Duty return"]
        assert [one.day for one in found] == [date(2027, 4, 15)]
        assert found[0].days_left(date(2027, 4, 2)) == 13
        assert not found[0].is_weekend

    def test_a_saturday_is_said(self) -> None:
        found = [one for one in returns_due(date(2026, 7, 31)) if one.said == "Alcohol Duty return"]
        assert [(one.day, one.is_weekend) for one in found] == [(date(2026, 8, 15), True)]

    def test_a_later_rule_takes_the_place_of_an_earlier_one(self) -> None:
        rule("warehouse return", "every stock period", 14, date(2026, 1, 1))
        rule("alcohol duty return", "every calendar month", 20, date(2027, 4, 1))
        # SI 1988/809 reg 20(5): within 14 days of the end of the period.
        assert date(2027, 4, 14) in [one.day for one in returns_due(date(2027, 3, 31))]
        assert date(2027, 5, 20) in [one.day for one in returns_due(date(2027, 4, 30))]

    def test_no_rule_no_day(self) -> None:
        assert [one for one in returns_due(date(2012, 3, 31)) if one.said == "Alcohol Duty return"] == []


@pytest.mark.usefixtures("loaded_month")
class TestTheSampleMonth:
    def test_places_add_up_to_the_site(self) -> None:
        for period in (PERIOD, "2027-02", "2022-06"):
            month = month_read(period)
            site = month.account.site
            assert all(line.foots for line in month.places)
            for figure in ("opening_ul", "loss_ul", "difference_ul", "closing_ul"):
                assert sum(getattr(line, figure) for line in month.places) == getattr(site, figure), figure
            passed = sum(line.in_ul - line.out_ul for line in month.places)
            assert passed == site.in_ul - site.out_ul

    def test_the_warehouse_holds_what_its_casks_hold(self) -> None:
        casks = Balance.objects.filter(account__vessel__kind=Kind.CASK).aggregate(held=Sum("balance_ul"))["held"]
        assert of_place(month_read(PERIOD), "Warehouse")[5] == casks / LITRE

    def test_casks_gauged_in_the_month(self) -> None:
        # 74 casks are filled by weight and 12 gauged again, by cask_fills.csv and regauges.csv.
        assert known(month_read(PERIOD), "Warehouse")[0] == 86

    def test_an_answer_moves_a_difference_to_a_known_loss_at_its_place(self, staff: Person, manager: Person) -> None:
        before = month_read(PERIOD)
        enquiry = Enquiry.objects.get(record_number="RG0007")
        amount = open_of(enquiry).open_ul
        ending = Proposal(
            Ending.LOSS,
            checked="Looked at the cask.",
            reason="A stave leaks.",
            cause="spillage",
            happened_at=enquiry.happened_at,
            product="spirit",
            pure_ul=amount,
            percent=60.0,
        )
        propose(enquiry, ending, person=staff)
        agree(enquiry, second=manager)
        after = month_read(PERIOD)
        was, now = of_place(before, "Warehouse"), of_place(after, "Warehouse")
        assert now[3] - was[3] == pytest.approx(amount / LITRE, abs=1e-6)
        assert was[4] - now[4] == pytest.approx(amount / LITRE, abs=1e-6)
        for figure in ("loss_ul", "difference_ul"):
            assert sum(getattr(line, figure) for line in after.places) == getattr(after.account.site, figure)

    def test_opening_is_what_the_accounts_held(self) -> None:
        holding = AccountMonth.objects.filter(account__kind__in=(AccountKind.VESSEL, AccountKind.STOCK))
        for period in ("2019-08", "2023-01", PERIOD):
            held = holding.filter(period__lt=period).aggregate(net=Sum("pure_ul"))["net"]
            assert month_account(period).site.opening_ul == held

    def test_months_beside_it_have_the_lines_of_their_own_accounts(self) -> None:
        periods = [PERIOD, "2027-02", "2023-01"]
        assert [one.site for one in month_lines(periods, Calendar.read())] == [
            month_account(period).site for period in periods
        ]
        closings = stage_closings(periods)
        assert closings[PERIOD] == {line.stage: line.closing_ul for line in month_account(PERIOD).stages}

    def test_losses_and_differences_by_month(self) -> None:
        account = month_account(PERIOD)
        assert losses_by_month(PERIOD, PERIOD)[PERIOD] == dict(account.losses)
        assert differences_by_month("2027-01", PERIOD)[PERIOD] == account.site.difference_ul
        assert StageMonth.objects.filter(period=PERIOD).exists()

    def test_unanswered_enquiries_are_those_of_each_month(self) -> None:
        found = unanswered_up_to(PERIOD)
        assert [one.number for one in found] == [one.number for one in unanswered(PERIOD)]
        assert len(found) == 3
        assert unanswered_up_to("2027-02") == []
