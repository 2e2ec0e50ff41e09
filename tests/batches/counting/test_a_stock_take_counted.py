"""A stock take from its plan to its posting: counts beside the book, recounts, reasons, two names, what is told."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.db import DatabaseError, connection, transaction
from django.test import Client

from batches.counting import counting, ending, planning, standing
from batches.counting.models import Count, Reason, StockTake
from batches.counting.walking import casks_lying, is_weighed, left_of, vessels_of
from batches.models import Record
from batches.records import recording
from batches.sheets.typed.read_sheet import Unfit
from batches.tracing.bottled_lots import bottled_lots
from distillery.clock.reading import books_today
from distillery.people.models import Person
from distillery.plant.models import Cask
from distillery.signed import MovedOn, digest_of
from ledger.models import Account, Balance, Gauge, MeasuredFlow
from ledger.proof.proving import prove
from ledger.statements.basis import takes_of
from ledger.statements.month import month_account
from ledger.statements.monthly.reading import month_read

MARCH = "2027-03"
# The books of these tests stand on 2 April; what is counted belongs to March.
NOW = "2027-03-31T15:00"


def read_last(code: str) -> dict[str, str]:
    """The readings of the last gauge of a vessel, as they would be typed again now."""
    gauge = Gauge.objects.standing().filter(account__vessel__code=code).latest("happened_at", "position")
    said = json.loads(gauge.raw)
    prefix = next(name.removesuffix("dip_mm") for name in said if name.endswith("dip_mm"))
    return {"at": NOW, **{f"gauge_{name.removeprefix(prefix)}": text for name, text in said.items()}}


@pytest.fixture
def other(person_of) -> Person:
    return person_of("test-manager", "manager")


@pytest.fixture
def take(loaded_month, staff: Person) -> StockTake:
    """Two vessels, one warehouse, all bottled stock."""
    stocks = [one.code for one in planning.stocks_to_count()]
    [warehouse] = planning.warehouses_to_count()[:1]
    planned = planning.Planned(books_today(), ["SV", "SR"], {warehouse: []}, stocks)
    return planning.plan(planned, person=staff)


class TestPlanning:
    def test_a_plan_is_kept_in_walking_order_with_how_many_casks_there_are(self, take: StockTake) -> None:
        assert take.number == "TK0001"
        assert [one.vessel.code for one in vessels_of(take)] == ["SR", "SV"]
        [place] = take.planned["warehouses"]
        held = Balance.objects.filter(account__vessel__cask__warehouse=place["warehouse"], balance_ul__gt=0)
        assert place["casks"] == held.count() > 0
        assert [(one.name, one.counted) for one in standing.so_far(take)] == [
            ("Vessels", 0),
            (place["warehouse"], 0),
            ("Bottled stock", 0),
        ]

    def test_what_cannot_be_planned_is_refused(self, loaded_month, staff: Person, officer: Person) -> None:
        with pytest.raises(Unfit, match="Nothing is to be counted"):
            planning.plan(planning.Planned(books_today()), person=staff)
        with pytest.raises(Unfit, match="no warehouse Elsewhere"):
            planning.plan(planning.Planned(books_today(), warehouses={"Elsewhere": []}), person=staff)
        with pytest.raises(Unfit, match="still to come"):
            planning.plan(planning.Planned(books_today() + timedelta(days=1), ["SV"]), person=staff)
        with pytest.raises(Unfit, match="may read but not write"):
            planning.plan(planning.Planned(date(2027, 3, 31), ["SV"]), person=officer)
        assert not StockTake.objects.exists()


class TestCounting:
    def test_a_vessel_that_agrees_asks_for_nothing(self, take: StockTake, staff: Person) -> None:
        count = counting.count_vessel(take, "SR", read_last("SR"), person=staff)
        assert (count.how, count.apart) == ("gauged", False)
        with pytest.raises(Unfit, match="agrees with the book"):
            counting.give_reason(take, count, "none", person=staff)

    def test_a_vessel_apart_is_counted_again_before_a_reason_and_the_first_count_is_kept(
        self, take: StockTake, staff: Person, other: Person, browser_of: Callable[[Person], Client]
    ) -> None:
        wrong = read_last("SV") | {"gauge_dip_mm": "900"}
        first = counting.count_vessel(take, "SV", wrong, person=staff)
        assert first.apart
        with pytest.raises(Unfit, match="count it again before a reason"):
            counting.give_reason(take, first, "the dip rod slipped", person=staff)
        assert "SV is apart from the book; count it again." in standing.what_is_left(take)
        second = counting.count_vessel(take, "SV", wrong | {"gauge_dip_mm": "901"}, person=other)
        assert (second.apart, second.replaces) == (True, first)
        assert "SV is apart from the book after a second count; write a reason." in standing.what_is_left(take)
        asked = browser_of(other).get(f"/stock-takes/{take.serial}/vessels/SV/").context
        boxes = [*asked["why"], *asked["form"]]
        assert [one.name for one in boxes if "autofocus" in one.field.widget.attrs] == ["reason"], "it comes next"
        reason = counting.give_reason(take, second, "a hose was left open overnight", person=other)
        assert Reason.objects.get() == reason
        assert not [one for one in standing.what_is_left(take) if "SV" in one]
        assert Count.objects.get(pk=first.pk).readings["gauge_dip_mm"] == "900"
        third = counting.count_vessel(take, "SV", read_last("SV"), person=staff)
        assert not third.apart

    def test_readings_that_cannot_be_are_refused_by_their_boxes(self, take: StockTake, staff: Person) -> None:
        with pytest.raises(Unfit) as refused:
            counting.count_vessel(take, "SV", {"at": NOW, "gauge_dip_mm": "x"}, person=staff)
        assert "gauge_dip_mm" in {one.field for one in refused.value.problems}
        with pytest.raises(Unfit, match="does not count LWR"):
            counting.count_vessel(take, "LWR", read_last("LWR"), person=staff)

    def test_casks_are_seen_by_number_however_it_is_typed_and_one_sent_twice_is_one(
        self, take: StockTake, staff: Person
    ) -> None:
        [place] = take.planned["warehouses"]
        warehouse = place["warehouse"]
        cask = casks_lying(warehouse)[0]
        [seen] = counting.see_casks(take, warehouse, [cask.vessel.code.lower()], person=staff)
        again = counting.see_casks(take, warehouse, [cask.vessel.code], person=staff)
        assert (again, seen.how, seen.pure_ul) == ([seen], "seen", None)
        assert seen.book_ul == Balance.objects.get(account__vessel=cask.pk).balance_ul
        assert left_of(take, casks_lying(warehouse)).count() == place["casks"] - 1
        with pytest.raises(Unfit, match="There is no cask 9999/1"):
            counting.see_casks(take, warehouse, ["9999/1"], person=staff)
        with pytest.raises(Unfit, match="does not go into Elsewhere"):
            counting.see_casks(take, "Elsewhere", [cask.vessel.code], person=staff)

    def test_a_cask_seen_where_the_books_do_not_have_it_says_so(self, take: StockTake, staff: Person) -> None:
        [place] = take.planned["warehouses"]
        cask = Cask.objects.exclude(warehouse=place["warehouse"]).filter(filled_at__isnull=False)[0]
        counting.see_casks(take, place["warehouse"], [cask.vessel.code], person=staff)
        [found] = standing.standing_of(take).elsewhere
        assert found.remark == f"By the books it lies in {cask.place}."

    def test_bottles_are_apart_by_one_and_wait_for_a_second_count(self, take: StockTake, staff: Person) -> None:
        lot = next(one for one in bottled_lots() if one.lot and one.held)
        count = counting.count_bottles(
            take, lot.stock, lot.lot, {"at": NOW, "bottles": str(lot.held - 1)}, person=staff
        )
        # One bottle of 70 cl at 41.4 %: 0.7 times 0.414 = 0.2898 litres of pure alcohol.
        assert (count.apart, count.missing_ul) == (True, 289_800)
        with pytest.raises(Unfit, match="blank"):
            counting.count_bottles(take, lot.stock, lot.lot, {"at": NOW, "bottles": ""}, person=staff)
        with pytest.raises(Unfit, match="whole number"):
            counting.count_bottles(take, lot.stock, lot.lot, {"at": NOW, "bottles": "-3"}, person=staff)


class TestSample:
    def test_every_so_many_th_cask_is_weighed_and_seeing_it_is_not_enough(self, loaded_month, staff: Person) -> None:
        warehouse = planning.warehouses_to_count()[0]
        take = planning.plan(planning.Planned(books_today(), warehouses={warehouse: []}, weigh_one_in=10), person=staff)
        casks = list(casks_lying(warehouse))
        sample = [one for one in casks if is_weighed(take, one)]
        assert 0 < len(sample) < len(casks) / 5
        counting.see_casks(take, warehouse, [one.vessel.code for one in casks], person=staff)
        assert {one.pk for one in left_of(take, casks_lying(warehouse))} == {one.pk for one in sample}
        weighed = {"at": NOW, "tare_kg": "52", "gross_kg": "120", "celsius": "20", "hydrometer_percent": "60"}
        # It was seen before, but never weighed: the first weighing that is apart asks for a second.
        code = sample[0].vessel.code
        first = counting.weigh_cask(take, code, weighed, place=warehouse, person=staff)
        assert first.apart
        with pytest.raises(Unfit, match="count it again"):
            counting.give_reason(take, first, "leaked", person=staff)
        second = counting.weigh_cask(take, code, weighed, place=warehouse, person=staff)
        counting.give_reason(take, second, "leaked", person=staff)
        assert standing.so_far(take)[0].weighed == 1
        counting.not_found(take, warehouse, code, "looked in all rows", person=staff)
        assert {one.pk for one in left_of(take, casks_lying(warehouse))} == {one.pk for one in sample[1:]}


def counted_whole(take: StockTake, person: Person) -> None:
    """Everything of the plan as the books have it, but SV with a heel of wrong dip, and two bottles missing."""
    [place] = take.planned["warehouses"]
    counting.count_vessel(take, "SR", read_last("SR"), person=person)
    for dip in ("1050", "1051"):
        last = counting.count_vessel(take, "SV", read_last("SV") | {"gauge_dip_mm": dip}, person=person)
    counting.give_reason(take, last, "a sample tap dripped", person=person)
    codes = [one.vessel.code for one in casks_lying(place["warehouse"])]
    counting.see_casks(take, place["warehouse"], codes, at=NOW, person=person)
    for lot in bottled_lots():
        if not lot.held:
            continue
        found = lot.held - 2 if lot.lot else lot.held
        for _ in range(2 if lot.lot else 1):
            counting.count_bottles(take, lot.stock, lot.lot, {"at": NOW, "bottles": str(found)}, person=person)
        if lot.lot:
            last = standing.last_counts(take).get(stock=lot.stock, lot=lot.lot)
            counting.give_reason(take, last, "two broken in the cage", person=person)


class TestPosting:
    def test_it_is_posted_in_two_names_under_what_was_on_the_page(
        self, take: StockTake, staff: Person, other: Person
    ) -> None:
        with pytest.raises(Unfit, match="SR is not counted"):
            ending.say_ready(take, person=staff)
        counted_whole(take, staff)
        before = {one.stage: one.closing_ul for one in month_account(MARCH).stages}
        with pytest.raises(Unfit, match="Nobody has said"):
            ending.agree(take, second=other, seen=digest_of(ending.shown_of(take)))
        ready = ending.say_ready(take, person=staff)
        assert ending.say_ready(take, person=staff) == ready
        with pytest.raises(Unfit, match="somebody else has to agree"):
            ending.agree(take, second=staff, seen=ready.digest)
        with pytest.raises(MovedOn):
            ending.agree(take, second=other, seen="0" * 64)
        assert not Record.objects.filter(kind="bottled_count").exists()

        ended = ending.agree(take, second=other, seen=ready.digest)
        assert [kind for kind, _ in ended.numbers] == ["stock_take", "bottled_count"]
        gauged = Record.objects.get(number=ended.numbers[0][1])
        assert (gauged.state, gauged.opened_by, gauged.second) == ("complete", staff, other)
        bottles = Record.objects.get(number=ended.numbers[1][1])
        # Two bottles of 70 cl at 41.4 % are 0.5796 litres of pure alcohol.
        after = {one.stage: one.closing_ul for one in month_account(MARCH).stages}
        assert before["bottled under bond"] - after["bottled under bond"] == 579_600
        vat = standing.last_counts(take).get(vessel__code="SV")
        assert Balance.objects.get(account__vessel__code="SV").balance_ul == vat.pure_ul
        assert before["new spirit"] - after["new spirit"] == vat.missing_ul
        assert after["maturing in cask"] == before["maturing in cask"]
        assert prove().broken == []
        with pytest.raises(Unfit, match="has ended"):
            counting.count_vessel(take, "SR", read_last("SR"), person=staff)
        assert bottles.second == other
        self._is_told(take, staff, other, after)

    @staticmethod
    def _is_told(take: StockTake, staff: Person, other: Person, closing: dict[str, int]) -> None:
        month = month_read(MARCH)
        lines = {one.place: one for one in month.known}
        assert sum(one.closing_ul for one in lines.values()) == sum(closing.values())
        casks = lines["Warehouse"]
        [place] = take.planned["warehouses"]
        # 12 casks were regauged in March and 74 weighed as they were filled (regauges.csv and cask_fills.csv of the
        # sample month); those of them that were seen stand as gauged.
        assert casks.gauged == 12 + 74
        by_weight = Gauge.objects.filter(movement__operation="regauge").values_list("account__vessel_id", flat=True)
        filled = MeasuredFlow.objects.filter(movement__period=MARCH).values_list("taker__vessel_id", flat=True)
        gauged = {*by_weight, *filled}
        seen = [one.pk for one in casks_lying(place["warehouse"]) if one.pk not in gauged]
        assert casks.seen == len(seen)
        held = Balance.objects.filter(account__vessel__in=seen).values_list("balance_ul", flat=True)
        assert casks.seen_ul == sum(held)
        bottled = lines["Bottled stock"]
        assert (bottled.counted_ul, bottled.book_ul) == (closing["bottled under bond"], 0)
        [told] = month.takes
        assert (told.number, told.names) == (take.number, (staff.shown_name, other.shown_name))

    def test_what_was_missed_is_found_again_where_its_removal_is_written_later(
        self, take: StockTake, staff: Person, other: Person
    ) -> None:
        """The two bottles that were missing had left before the count: the count then finds nothing missing."""
        counted_whole(take, staff)
        ready = ending.say_ready(take, person=staff)
        ended = ending.agree(take, second=other, seen=ready.digest)
        number = ended.numbers[1][1]
        lot = next(one for one in bottled_lots() if one.lot and one.held)
        held = lot.held
        sample = {
            "at": "2027-03-31T13:00",
            "product": "gin",
            "bottle_centilitres": "70",
            "label_percent": "41.4",
            "bottles": "2",
            "lot_code": lot.lot,
            "kind": "home use",
            "consignee": "J. Varrick, Harrowmere",
            "document": "D-77",
        }
        sheet_fields = {one.name for one in recording.sheet_of("removal").fields}
        typed = {name: text for name, text in sample.items() if name in sheet_fields}
        recording.save("removal", None, typed, person=staff, sure=True)
        assert next(one for one in bottled_lots() if one.lot == lot.lot).held == held
        stock = Account.objects.get(pk=lot.stock.pk)
        apart = Account.objects.get(code=f"difference:gauging:{stock.code}")
        assert Balance.objects.get(account=apart).balance_ul == 0
        assert Record.objects.get(number=number).second is None
        assert prove().broken == []

    def test_one_that_is_given_up_posts_nothing_and_says_why(self, take: StockTake, staff: Person) -> None:
        with pytest.raises(Unfit, match="Why is blank"):
            ending.give_up(take, " ", person=staff)
        counting.count_vessel(take, "SR", read_last("SR"), person=staff)
        ended = ending.give_up(take, "the scale broke", person=staff)
        assert (ended.how, ended.numbers) == ("given up", [])
        assert takes_of(MARCH) == []


@pytest.mark.parametrize("table", ["stocktake", "count", "reason", "ready", "ending"])
def test_all_that_is_written_for_a_stock_take_stays(loaded_month, staff: Person, other: Person, table: str) -> None:
    take = planning.plan(planning.Planned(books_today(), ["SV"]), person=staff)
    for dip in ("900", "901"):
        last = counting.count_vessel(take, "SV", read_last("SV") | {"gauge_dip_mm": dip}, person=staff)
    counting.give_reason(take, last, "not known", person=staff)
    ready = ending.say_ready(take, person=staff)
    ending.agree(take, second=other, seen=ready.digest)
    for act in (f"DELETE FROM counting_{table}", f"UPDATE counting_{table} SET id = id + 1000"):
        with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(act)
