"""A stock take from its plan to its posting: counts beside the book, recounts, reasons, two names, what is told."""

from __future__ import annotations

import json
from datetime import date, timedelta

import pytest

from batches.counting import counting, planning, standing
from batches.counting.models import Count, Reason, StockTake
from batches.counting.walking import casks_lying, is_weighed, left_of, vessels_of
from batches.sheets.typed.read_sheet import Unfit
from batches.tracing.bottled_lots import bottled_lots
from distillery.clock.reading import books_today
from distillery.people.models import Person
from distillery.plant.models import Cask
from ledger.models import Balance, Gauge

MARCH = "2027-03"
NOW = "now"


def read_last(code: str) -> dict[str, str]:
    """The readings of the last gauge of a vessel, as they would be typed again now."""
    gauge = Gauge.objects.standing().filter(account__vessel__code=code).latest("happened_at", "position")
    raw = {name.rsplit("_dip_mm", 1)[0]: text for name, text in json.loads(gauge.raw).items()}
    said = json.loads(gauge.raw)
    prefix = next(name.removesuffix("dip_mm") for name in said if name.endswith("dip_mm"))
    assert raw
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
        self, take: StockTake, staff: Person, other: Person
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
        [found] = standing.elsewhere_of(take)
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
        counting.not_found(take, warehouse, sample[0].vessel.code, "looked in all rows", person=staff)
        assert {one.pk for one in left_of(take, casks_lying(warehouse))} == {one.pk for one in sample[1:]}


def counted_whole(take: StockTake, person: Person) -> None:
    """Everything of the plan as the books have it, but SV with a heel of wrong dip, and two bottles missing."""
    [place] = take.planned["warehouses"]
    counting.count_vessel(take, "SR", read_last("SR"), person=person)
    for dip in ("1050", "1051"):
        last = counting.count_vessel(take, "SV", read_last("SV") | {"gauge_dip_mm": dip}, person=person)
    counting.give_reason(take, last, "a sample tap dripped", person=person)
    codes = [one.vessel.code for one in casks_lying(place["warehouse"])]
    counting.see_casks(take, place["warehouse"], codes, person=person)
    for lot in bottled_lots():
        if not lot.held:
            continue
        found = lot.held - 2 if lot.lot else lot.held
        for _ in range(2 if lot.lot else 1):
            counting.count_bottles(take, lot.stock, lot.lot, {"at": NOW, "bottles": str(found)}, person=person)
        if lot.lot:
            last = standing.last_counts(take).get(stock=lot.stock, lot=lot.lot)
            counting.give_reason(take, last, "two broken in the cage", person=person)
