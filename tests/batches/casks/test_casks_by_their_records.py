"""Where a cask lies, whose it is and what was seen of it follow from its records, whenever they are written or changed.

Names, numbers and places are invented; the plant is the plain one of the tests.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from django.test import Client

from batches.casks.life import life_of
from batches.casks.standing import before, to_regauge
from batches.models import Record, Version
from batches.records import recording
from batches.sheets.register import sheet_of
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Unfit, read_sheet
from distillery.clock.reading import books_now
from distillery.people.models import Person
from distillery.plant import keeping
from distillery.plant.models import Cask
from distillery.plant.places import keyholders, rows_of
from ledger.models import Movement
from tests.batches.steps.test_disgorging import FILLED
from tests.batches.steps.test_disgorging import line as weighed_out
from tests.batches.steps.test_re_racking import emptied, filled
from tests.batches.tiny_plant import cask as another
from tests.batches.tiny_plant import gauge

Write = Callable[..., Record]


def cask(code: str) -> Cask:
    return Cask.objects.get(vessel__code=code)


def to(code: str, warehouse: str, row: str = "", tier: str = "") -> dict[str, str]:
    return {"cask": code, "to_warehouse": warehouse, "to_row": row, "to_tier": tier}


def noted(record: Record) -> str:
    return Version.objects.filter(record=record).latest("serial").notes


def test_a_move_posts_nothing_and_says_where_the_casks_lie(write: Write) -> None:
    before_it = Movement.objects.count()
    record = write("cask_move", None, [to("C1", "2", "4", "2"), to("C2", "2", "4", "3")], at="2027-03-02T09:00")
    assert record.number == "MV0001"
    assert Movement.objects.count() == before_it
    assert (cask("C1").place, cask("C2").place) == ("2, row 4, tier 2", "2, row 4, tier 3")


def test_the_last_to_happen_holds_and_not_the_last_that_was_written(write: Write) -> None:
    write("cask_move", None, [to("C1", "3", "1")], at="2027-03-05T09:00")
    write("cask_move", None, [to("C1", "2", "4")], at="2027-03-02T09:00")
    assert cask("C1").place == "3, row 1"


def test_putting_a_move_right_and_taking_it_back_moves_the_casks_back(write: Write, staff: Person) -> None:
    write("cask_move", None, [to("C1", "2", "4")], at="2027-03-02T09:00")
    record = write("cask_move", None, [to("C1", "3", "1"), to("C2", "3", "1")], at="2027-03-05T09:00")
    recording.correct(record, {}, [to("C1", "3", "7")], person=staff, reason="C2 stayed", sure=True)
    assert (cask("C1").place, cask("C2").place) == ("3, row 7", "1")
    recording.void(record, person=staff, reason="not done")
    assert cask("C1").place == "2, row 4"


def test_a_move_shows_where_the_books_had_each_cask(write: Write) -> None:
    write("cask_move", None, [to("C1", "2", "4")], at="2027-03-02T09:00")
    record = write("cask_move", None, [to("C1", "3", "1")], at="2027-03-05T09:00")
    sheet = sheet_of("cask_move")
    version = Version.objects.get(record=record)
    filled = read_sheet(
        sheet, {"at": "2027-03-05T09:00"}, [to("C1", "3", "1")], site=Site(), number=version.record.number
    )
    result = sheet.results[0](filled.completed, books_now())
    assert result is not None
    assert result.lines[0].cells == ("C1", "2, row 4", "3, row 1")


def test_a_row_that_the_warehouse_does_not_have_is_remarked_on(write: Write, manager: Person) -> None:
    keeping.add_rows(warehouse="1", rows=["1", "10", "2"], tiers=3, person=manager)
    assert [one.row for one in rows_of("1")] == ["1", "2", "10"]
    assert "1 has no row 11" in noted(write("cask_move", None, [to("C1", "1", "11")], at="2027-03-02T09:00"))
    assert "has 3 tiers" in noted(write("cask_move", None, [to("C1", "1", "2", "4")], at="2027-03-02T10:00"))
    assert noted(write("cask_move", None, [to("C1", "1", "2", "3")], at="2027-03-02T11:00")) == "[]"
    keeping.add_rows(warehouse="1", rows=["10"], tiers=0, person=manager)
    assert [one.row for one in rows_of("1")] == ["1", "2"]
    with pytest.raises(keeping.Unkeepable, match="move it first"):
        keeping.add_rows(warehouse="1", rows=["2"], tiers=0, person=manager)


def test_owners_change_by_record_and_both_names_stand_on_it(write: Write) -> None:
    sold = {"from_owner": "Harrowmere", "to_owner": "E. Tarn", "document": "letter 12"}
    write("cask_owner", None, [{"cask": "C1"}], at="2027-03-02T09:00", **sold)
    assert (cask("C1").owner, cask("C2").owner) == ("E. Tarn", "")
    again = write(
        "cask_owner", None, [{"cask": "C1"}], at="2027-03-04T09:00", from_owner="Harrowmere", to_owner="B. Fell"
    )
    assert "is E. Tarn's by the books" in noted(again)
    stood = before("C1", again.happened_from, without=again.number)
    assert stood is not None
    assert stood.owner == "E. Tarn"
    with pytest.raises(Unfit, match="both sides"):
        write("cask_owner", None, [{"cask": "C1"}], at="2027-03-05T09:00", from_owner="B. Fell", to_owner="b. fell")


def test_a_cask_seen_leaking_asks_for_a_regauge_until_it_is_seen_dry(write: Write) -> None:
    seen = {"cask": "C1", "seen": "leaking", "lost_litres": "2", "done": "peg driven"}
    write("warehouse_round", None, [seen], at="2027-03-02T09:00", warehouse="1", walked_by="A. Marr")
    assert [one.vessel.code for one in to_regauge()] == ["C1"]
    dry = {"cask": "C1", "seen": "dry"}
    write("warehouse_round", None, [dry], at="2027-03-01T09:00", warehouse="1", walked_by="A. Marr")
    assert [one.vessel.code for one in to_regauge()] == ["C1"]
    write("warehouse_round", None, [dry], at="2027-03-03T09:00", warehouse="1", walked_by="A. Marr")
    assert to_regauge() == []


def test_a_round_on_which_nothing_was_seen_is_a_record_too(write: Write) -> None:
    record = write("warehouse_round", None, at="2027-03-02T09:00", warehouse="1", walked_by="A. Marr", air_celsius="8")
    assert record.number == "RW0001"


def test_an_opening_stands_open_until_it_is_closed(write: Write, manager: Person) -> None:
    keeping.add_keyholder(
        warehouse="1", name="A. Marr", key="key 1", from_day=date(2027, 1, 1), until_day=None, person=manager
    )
    opened = write("warehouse_opening", None, warehouse="1", opened_at="2027-03-02T08:00", opened_by="A. Marr")
    assert (opened.state, noted(opened)) == ("open", "[]")
    sheet = sheet_of("warehouse_opening")
    filled = read_sheet(
        sheet,
        {"warehouse": "1", "opened_at": "2027-03-02T08:00", "opened_by": "A. Marr"},
        site=Site(),
        number=opened.number,
    )
    result = sheet.results[0](filled.completed, books_now())
    assert result is not None
    assert result.lines[0].state is not None
    assert result.lines[0].state.word == "Not closed"
    closed = write(
        "warehouse_opening", opened.number, closed_at="2027-03-02T17:00", closed_by="C. Wick", seals_put_on="0412"
    )
    assert closed.state == "complete"
    assert "C. Wick holds no key of 1" in noted(closed)


def test_a_key_given_back_is_held_up_to_that_day(plain_plant: None, manager: Person) -> None:
    taken = date(2027, 1, 1)
    for until in (None, date(2027, 3, 1)):
        keeping.add_keyholder(
            warehouse="1", name="A. Marr", key="key 1", from_day=taken, until_day=until, person=manager
        )
    assert len(keyholders("1")) == 1
    assert len(keyholders("1", on=date(2027, 3, 1))) == 1
    assert keyholders("1", on=date(2027, 3, 2)) == []


def test_a_cask_that_left_is_gone_until_it_is_filled_again(
    write: Write, browser_of: Callable[[Person], Client], staff: Person
) -> None:
    write("opening_cask", **{**FILLED, "number": "C1", "filled_at": "2022-03-06T02:00"})
    removal = write("cask_removal", None, [{"cask": "C1"}], at="2027-03-06T08:00", kind="export")
    here = browser_of(staff)

    def those(state: str) -> set[str]:
        page = here.get("/warehouse/", {"state": state}).content.decode().partition("<table")[2]
        return {code for code in ("C1", "C2") if f"/casks/{code}/" in page}

    assert (those("full"), those("empty"), those("gone")) == (set(), {"C2"}, {"C1"})
    assert "Gone" in here.get("/warehouse/", {"as": "csv"}).getvalue().decode()
    assert f"gone since Sat 6 Mar 2027, by {removal.number}" in here.get("/casks/C1/").content.decode()
    assert "left bond; left for: export" in [one.said for one in life_of(cask("C1").vessel)]
    assert "/casks/C1/" not in here.get("/warehouse/lying/", {"warehouse": "1"}).content.decode()
    recording.void(removal, person=staff, reason="did not go")
    assert (those("full"), those("gone")) == ({"C1"}, set())


def test_re_racking_says_where_the_filled_cask_lies_and_disgorging_that_one_was_emptied(write: Write) -> None:
    another("C3")
    for code in ("C1", "C2"):
        write("opening_cask", **{**FILLED, "number": code, "filled_at": "2022-03-06T02:00"})
    into = filled("C3", "215") | {"warehouse": "2", "row": "4", "tier": "1"}
    write("re_racking", "RK0001", [emptied("C1", "216"), into], at="2027-03-06T08:00")
    assert cask("C3").place == "2, row 4, tier 1"
    assert [one.said for one in life_of(cask("C3").vessel)] == ["to 2, row 4, tier 1; it is: filled"]
    assert life_of(cask("C1").vessel)[-1].said == "it is: emptied"
    vat = {"vat": "BV", **gauge("vat_before", "0"), **gauge("vat_after", "180", "63.0")}
    write("disgorging", "DG0001", [weighed_out("C2", "216")], at="2027-03-07T08:00", **vat)
    assert life_of(cask("C2").vessel)[-1].said == "emptied"
