"""Cleaning a vessel: nothing is posted, the vessel is held meanwhile, and pages say whether it is done or due.

After each emptying for a washback and once a week for a still are habits of the trade, no source. All else is invented.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from batches.models import Record
from batches.sheets.typed.read_sheet import Unfit
from distillery.people.models import Person
from distillery.rules import in_force
from distillery.rules.models import UsualFigure
from distillery.rules.setting import figures as setting
from ledger.models import Account, Leg, Movement
from ledger.statements.balances import holdings
from ledger.statements.cleaned import Cleaning, cleaned
from tests.batches.tiny_plant import gauge

Write = Callable[..., Record]

BEGUN = {"vessel": "SP", "begun_at": "2027-03-02T09:00", "agent": "caustic", "strength_percent": "2.0"}
RINSED = {
    "ended_at": "2027-03-02T10:30",
    "rinse_ph": "7.1",
    "rinse_found": "clean",
    "rinse_checked_by": "A. Marr",
    "rinse_to": "effluent tank",
}


def stands(code: str, day: int, hour: int = 12) -> Cleaning | None:
    """How a vessel stands to its cleaning at an hour of March 2027."""
    there = holdings(Account.objects.filter(vessel__code=code))
    return cleaned(there, datetime(2027, 3, day, hour, tzinfo=UTC)).get(code)


def transfer(write: Write, giver: str, taker: str, at: str, litres: int) -> Record:
    """Empties one vessel that holds so many litres at 60 % vol into an empty one; a litre is lost on the way."""
    return write(
        "transfer",
        at=at,
        from_vessel=giver,
        to_vessel=taker,
        **gauge("from_before", str(litres), "60"),
        **gauge("from_after", "0"),
        **gauge("to_before", "0"),
        **gauge("to_after", str(litres - 1), "60"),
    )


@pytest.fixture
def emptied(write: Write, opened: Callable[..., Record]) -> Record:
    """The spirit receiver, emptied into the vat on the morning of the second."""
    opened("SP", "1000", "60")
    return transfer(write, "SP", "VA", "2027-03-02T08:00", 1000)


@pytest.fixture(autouse=True)
def figures_read_anew() -> Iterator[None]:
    in_force.let_go()
    yield
    in_force.let_go()


def test_it_moves_no_alcohol(write: Write, emptied: Record) -> None:
    before = Movement.objects.count()
    record = write("cleaning", None, **BEGUN, **RINSED)
    assert record.number == "CL0001"
    assert Movement.objects.count() == before
    assert not Leg.objects.filter(movement__record_number="CL0001").exists()


def test_a_vessel_that_holds_alcohol_is_emptied_first(write: Write, opened: Callable[..., Record]) -> None:
    opened("SP", "1000", "60")
    with pytest.raises(Unfit, match=r"SP holds 600\.00 litres of pure alcohol by its book when it is cleaned"):
        write("cleaning", None, **BEGUN, **RINSED)


def test_it_holds_its_vessel_until_it_ends(write: Write, emptied: Record) -> None:
    write("cleaning", "CL0001", **BEGUN)
    with pytest.raises(Unfit, match="SP holds cleaning CL0001, which began Tue 2 Mar 2027 09:00"):
        write("cleaning", None, **(BEGUN | {"begun_at": "2027-03-02T09:30"}))
    assert write("cleaning", "CL0001", **RINSED).happened_to is not None


def test_the_rinse_is_part_of_it(write: Write, emptied: Record) -> None:
    with pytest.raises(Unfit, match="Rinse found"):
        write("cleaning", None, **BEGUN, **{name: value for name, value in RINSED.items() if name != "rinse_found"})
    with pytest.raises(Unfit, match="Rinse checked by"):
        write("cleaning", None, **BEGUN, **{name: value for name, value in RINSED.items() if "checked" not in name})


def test_what_was_left_out_is_noted(write: Write, emptied: Record) -> None:
    record = write("cleaning", None, **(BEGUN | {"strength_percent": ""}), **(RINSED | {"rinse_ph": ""}))
    notes = record.versions.latest("serial").notes
    assert "No strength of the caustic is written." in notes
    assert "Caustic was used and no pH of the last rinse is written." in notes


def test_done_says_when(write: Write, emptied: Record) -> None:
    assert stands("SP", 3) is None
    write("cleaning", None, **BEGUN, **RINSED)
    done = stands("SP", 3)
    assert done is not None
    assert not done.is_due
    assert (done.said, done.record_number) == ("cleaned Tue 2 Mar 10:30", "CL0001")


def test_a_rinse_that_was_not_clean_leaves_it_due(write: Write, emptied: Record) -> None:
    write("cleaning", None, **BEGUN, **(RINSED | {"rinse_found": "not clean"}))
    due = stands("SP", 3)
    assert due is not None
    assert due.is_due
    assert due.said == "not clean after CL0001"
    write("cleaning", None, **(BEGUN | {"begun_at": "2027-03-02T11:00"}), **(RINSED | {"ended_at": "2027-03-02T12:00"}))
    again = stands("SP", 3)
    assert again is not None
    assert not again.is_due


def test_after_each_emptying_where_the_site_says_so(write: Write, emptied: Record, manager: Person) -> None:
    write("cleaning", None, **BEGUN, **RINSED)
    transfer(write, "VA", "SP", "2027-03-03T08:00", 999)
    setting.set_usual_figure(
        name="time between cleanings, receiver",
        from_day=date(2027, 1, 1),
        expected=Decimal(0),
        spread=Decimal(1),
        source="site habit",
    )
    in_force.let_go()
    held = stands("SP", 4)
    assert held is not None
    assert not held.is_due, "it is in use"
    transfer(write, "SP", "VA", "2027-03-05T08:00", 998)
    due = stands("SP", 6)
    assert due is not None
    assert due.due_since == datetime(2027, 3, 5, 8, tzinfo=UTC)
    assert due.said == "to be cleaned since Fri 5 Mar 08:00, cleaned Tue 2 Mar 10:30"


def test_once_in_so_many_days_where_the_site_says_so(write: Write, emptied: Record) -> None:
    write("cleaning", None, **BEGUN, **RINSED)
    setting.set_usual_figure(
        name="time between cleanings, receiver",
        from_day=date(2027, 1, 1),
        expected=Decimal(7),
        spread=Decimal(1),
        source="site habit",
    )
    in_force.let_go()
    for day, is_due in ((9, False), (10, True)):
        found = stands("SP", day, hour=10)
        assert found is not None
        assert found.is_due is is_due, day


def test_what_is_usual_has_its_basis(db: None) -> None:
    rows = UsualFigure.objects.filter(name__startswith="time between cleanings, ")
    assert {row.name.rpartition(", ")[2] for row in rows} == {"washback", "still", "receiver", "vat", "tank"}
    assert all("common practice, no source" in row.source for row in rows)


@pytest.mark.parametrize("agent", ["caustic", "hot water"])
def test_pages_say_it(
    agent: str, write: Write, emptied: Record, browser_of: Callable[..., Client], staff: Person
) -> None:
    write("cleaning", None, **(BEGUN | {"agent": agent}), **(RINSED | {"rinse_found": "not clean"}))
    browser = browser_of(staff)
    assert "not clean after CL0001" in browser.get(reverse("plant")).content.decode()
    assert "not clean after CL0001" in browser.get(reverse("vessel_account", args=["SP"])).content.decode()
    shift = browser.get(reverse("shift")).content.decode()
    assert "To be cleaned" in shift
    assert reverse("record_new", args=["cleaning"]) in shift
    record = browser.get(reverse("record", args=["cleaning", "CL0001"])).content.decode()
    assert "A. Marr" in record
    assert browser.get(reverse("record_pdf", args=["cleaning", "CL0001"])).status_code == 200
