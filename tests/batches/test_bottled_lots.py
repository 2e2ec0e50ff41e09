"""Bottled stock by lot: what is bottled, sent out, corrected and made void, against counting by hand and the books."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from batches.models import Link, Record
from batches.pages.places.lot_tables import in_cases
from batches.recalls.touching import touched_by
from batches.records import recording
from batches.sheets.typed.read_sheet import Unfit
from batches.tracing.bottled_lots import bottled_lots
from distillery.people.models import Person
from ledger.models import Account, AccountKind
from ledger.proof.proving import prove
from tests.batches.tiny_plant import gauge

pytestmark = pytest.mark.django_db
Write = Callable[..., Record]

GIN = {"product": "Harrowmere gin", "bottle_centilitres": "70", "label_percent": "46.0"}


def bottle(write: Write, number: str, day: str, lot: str, dips: tuple[str, str], bottles: str, **more: str) -> Record:
    gauges = gauge("vat_before", dips[0], "46.0") | gauge("vat_after", dips[1], "46.0")
    at = f"2027-03-{day}T09:00"
    return write("bottling", number, (), at=at, vat="BV", lot_code=lot, **GIN, bottles=bottles, **gauges, **more)


def held() -> dict[str, int]:
    return {one.lot: one.held for one in bottled_lots()}


@pytest.fixture
def two_lots(write: Write, opened: Callable[..., Record]) -> None:
    opened("BV", "1000", "46.0")
    bottle(write, "BO0001", "02", "L27061", ("1000", "720"), "400", bottles_a_case="6")
    bottle(write, "BO0002", "03", "L27062", ("720", "440"), "400")


def test_what_leaves_without_its_lot_is_of_the_oldest(write: Write, two_lots: None) -> None:
    assert held() == {"L27061": 400, "L27062": 400}
    write("removal", "RM0001", (), at="2027-03-04T09:00", **GIN, bottles="500", kind="export")
    assert held() == {"L27061": 0, "L27062": 300}
    first = bottled_lots()[0]
    assert (first.came, first.left, first.record_number, first.bottles_a_case) == (400, 400, "BO0001", 6)


def test_the_lot_that_is_named_leaves_and_the_links_follow_it(write: Write, two_lots: None) -> None:
    left = write("removal", "RM0001", (), at="2027-03-04T09:00", **GIN, bottles="300", kind="export", lot_code="l27062")
    assert held() == {"L27061": 400, "L27062": 100}
    assert list(Link.objects.filter(taker=left).values_list("giver__number", flat=True)) == ["BO0002"]
    # 700 mL at 46.0 in each.
    assert Link.objects.get(taker=left).pure_ul == 300 * 322_000
    rest = write("removal", "RM0002", (), at="2027-03-05T09:00", **GIN, bottles="100", kind="export", lot_code="L27061")
    assert list(Link.objects.filter(taker=rest).values_list("giver__number", flat=True)) == ["BO0001"]
    assert held() == {"L27061": 300, "L27062": 100}


def test_more_of_a_lot_than_it_has_is_refused(write: Write, two_lots: None, manager: Person) -> None:
    leaving = {**GIN, "at": "2027-03-04T09:00", "kind": "export"}
    with pytest.raises(Unfit, match="Bottles is 401, but lot L27062 has 400 in bond at that time"):
        write("removal", None, (), **leaving, bottles="401", lot_code="L27062")
    with pytest.raises(Unfit, match=r"these lots have: L27061 \(400\), L27062 \(400\)"):
        write("removal", None, (), **leaving, bottles="1", lot_code="L27069")
    record = write("removal", None, (), **leaving, bottles="400", lot_code="L27062")
    with pytest.raises(Unfit, match="has 400 in bond"):
        recording.correct(record, {"bottles": "401"}, person=manager, reason="counted again")


def test_what_comes_back_is_of_the_lot_it_names(write: Write, two_lots: None) -> None:
    write("removal", None, (), at="2027-03-04T09:00", **GIN, bottles="300", kind="export", lot_code="L27062")
    write(
        "return_inward",
        None,
        (),
        at="2027-03-06T09:00",
        **GIN,
        bottles="20",
        lot_code="L27062",
        status="under bond",
        came_from="Carrow Bonded Stores, Low Quay, Harrowmere",
        document="RB-4",
        reason="refused",
        condition="sound",
    )
    assert held() == {"L27061": 400, "L27062": 120}


def test_cases_and_loose_bottles(write: Write, two_lots: None) -> None:
    # 400 are 66 cases of 6 and 4 bottles.
    assert [in_cases(one) for one in bottled_lots()] == ["66 of 6 and 4 loose", ""]


def test_what_was_there_before_the_books_has_no_lot(write: Write, two_lots: None) -> None:
    write("opening_bottled_stock", None, (), at="2027-03-01T06:00", **GIN, bottles="10")
    write("removal", "RM0001", (), at="2027-03-04T09:00", **GIN, bottles="15", kind="export")
    assert held() == {"": 0, "L27061": 395, "L27062": 400}


def test_a_correction_and_a_void_are_followed(write: Write, two_lots: None, manager: Person) -> None:
    second = Record.objects.get(number="BO0002")
    recording.correct(second, {"bottles": "390"}, person=manager, reason="counted again")
    assert held() == {"L27061": 400, "L27062": 390}
    second.refresh_from_db()
    recording.void(second, person=manager, reason="entered twice")
    assert held() == {"L27061": 400}


@settings(max_examples=5, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(leaving=st.lists(st.integers(1, 40), max_size=3))
def test_lots_add_up_to_the_book(write: Write, two_lots: None, leaving: list[int]) -> None:
    for bottles in leaving:
        write("removal", None, (), at="2027-03-05T09:00", **GIN, bottles=str(bottles), kind="export")
    for stock in Account.objects.filter(kind=AccountKind.STOCK).select_related("balance"):
        assert sum(one.pure_ul for one in bottled_lots([stock])) == stock.balance.balance_ul


def test_the_page_lists_them_and_gives_them_as_a_file(
    write: Write, two_lots: None, browser_of: Callable[[Person], Client], staff: Person
) -> None:
    browser = browser_of(staff)
    page = browser.get("/bottling/").content.decode()
    assert "Bottled stock by lot" in page
    assert "L27062" in page
    file = browser.get("/bottling/?lots-as=csv&lots-there=in bond")
    assert "L27061" in b"".join(file).decode()


def test_bottles_that_come_back_are_of_the_bottling_of_their_lot(write: Write, two_lots: None) -> None:
    write("removal", "RM0001", (), at="2027-03-04T09:00", **GIN, bottles="300", kind="under bond", lot_code="L27062")
    back = {"status": "under bond", "came_from": "Ada Fenwick, Harrowmere", "document": "RN-1", "reason": "crooked"}
    came = write(
        "return_inward",
        "RI0001",
        (),
        at="2027-03-05T09:00",
        **GIN,
        bottles="20",
        lot_code="l27062",
        condition="sound",
        **back,
    )
    link = Link.objects.get(taker=came)
    # 20 bottles of 700 mL at 46.0 %.
    assert (link.giver.number, link.pure_ul) == ("BO0002", 20 * 322_000)
    touched = touched_by("BO0002")
    assert touched.records[came.pk] == pytest.approx(1.0)
    stock = Account.objects.get(kind=AccountKind.STOCK)
    # 400 bottles of the other lot, 100 and the 20 that came back of this one.
    assert touched.accounts[stock.pk] == pytest.approx(120 / 520)
    assert came.pk not in touched_by("BO0001").records
    emptied = write(
        "reprocessing",
        "RP0001",
        (),
        at="2027-03-06T09:00",
        **GIN,
        bottles="120",
        lot_code="L27062",
        reason="crooked",
        vat="BV",
        **gauge("vat_before", "440", "46.0"),
        **gauge("vat_after", "524", "46.0"),
    )
    assert touched_by("BO0002").records[emptied.pk] == pytest.approx(1.0)
    assert prove().broken == []
