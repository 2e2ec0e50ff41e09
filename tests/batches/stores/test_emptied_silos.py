"""A silo that ran empty: its books are brought to what was found, and a large difference asks for two people.

1 % of what went through a silo as the limit: common practice, no source. Weights worked by hand.
"""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest

from batches.audit.proving import prove_records
from batches.audit.proving_standing import prove_standing
from batches.audit.proving_stores import prove_stores
from batches.models import Record, State
from batches.records import recording
from batches.sheets.register import sheet_of
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Unfit, read_sheet
from batches.steps.silo_emptied import Emptied, emptied
from batches.stores.kinds import MaterialKind
from batches.stores.models import Lot
from distillery.people.models import Person
from distillery.rules.models import UsualFigure

Write = Callable[..., Record]


def delivery(write: Write, number: str, at: str, kilograms: str) -> Record:
    return write("intake", number, received_at=f"2027-03-{at}", kilograms=kilograms, silo="S1")


def mash(write: Write, number: str, at: str, kilograms: str) -> Record:
    return write("mash", number, silo="S1", started_at=f"2027-03-{at}", grist_kg=kilograms)


def empty(write: Write, at: str, **more: str) -> Record:
    return write("silo_emptied", None, **{"silo": "S1", "emptied_at": f"2027-03-{at}", "left_kg": "0", **more})


def helds() -> dict[str, int]:
    return {lot.code: lot.held // 1000 for lot in Lot.objects.filter(kind=MaterialKind.MALT)}


def proved() -> bool:
    assert [*prove_stores(), *prove_standing(), *prove_records()] == []
    return True


def comes_to(record: Record) -> Emptied:
    sheet = sheet_of(record.kind)
    version = record.versions.latest("serial")
    return emptied(read_sheet(sheet, json.loads(version.values), site=Site(), number=record.number).completed)


@pytest.fixture
def used(write: Write) -> None:
    """3,000 and 10,000 kg came in, 12,900 went out: 100 of 13,000 kg are left by the books, 0.77 %."""
    delivery(write, "M001", "01T06:00", "3000")
    delivery(write, "M002", "02T06:00", "10000")
    mash(write, "MA0001", "03T08:00", "6000")
    mash(write, "MA0002", "04T08:00", "6900")


def test_a_small_difference_brings_its_lots_to_nothing(used: None, write: Write) -> None:
    assert helds() == {"M001": 0, "M002": 100}
    record = empty(write, "05T08:00")
    assert record.state == State.COMPLETE
    assert helds() == {"M001": 0, "M002": 0}
    here = comes_to(record)
    assert (here.through.put_in, here.through.held, here.difference) == (13_000_000, 100_000, 100_000)
    assert here.percent == pytest.approx(0.769, abs=0.001)
    assert proved()


def test_a_large_one_asks_for_a_reason_and_a_second_person(
    used: None, write: Write, staff: Person, manager: Person
) -> None:
    mash(write, "MA0003", "04T20:00", "300")
    with pytest.raises(Unfit, match=r"200.0 kg are left.*1.54 % over.*beyond 1 %") as refused:
        empty(write, "05T08:00")
    assert [one.field for one in refused.value.problems] == ["reason"]
    record = empty(write, "05T08:00", reason="grist scale read low")
    assert record.state == State.WAITING
    assert helds() == {"M001": 0, "M002": -200}
    assert proved()
    recording.countersign(record, manager)
    assert helds() == {"M001": 0, "M002": 0}
    assert proved()
    record.refresh_from_db()
    recording.void(record, person=staff, second=manager, reason="another silo")
    assert helds() == {"M001": 0, "M002": -200}
    assert proved()


def test_what_is_left_is_of_the_lot_put_in_last(write: Write) -> None:
    delivery(write, "M001", "01T06:00", "3000")
    delivery(write, "M002", "02T06:00", "10000")
    mash(write, "MA0001", "03T08:00", "2960")
    empty(write, "05T08:00", left_kg="9990", reason="")
    # 40 and 10,000 kg by the books.
    assert helds() == {"M001": 0, "M002": 9990}
    assert proved()


def test_a_mash_corrected_before_it_leaves_the_silo_empty(used: None, write: Write, staff: Person) -> None:
    record = empty(write, "05T08:00")
    earlier = Record.objects.get(number="MA0001")
    recording.correct(earlier, {"grist_kg": "5950"}, person=staff, reason="weighed again", sure=True)
    assert helds() == {"M001": 0, "M002": 0}
    assert comes_to(record).difference == 150_000
    assert proved()


def test_the_next_time_counts_from_the_last(used: None, write: Write) -> None:
    empty(write, "05T08:00", left_kg="40")
    delivery(write, "M003", "06T06:00", "8000")
    mash(write, "MA0003", "07T08:00", "8020")
    assert helds() == {"M001": 0, "M002": 0, "M003": 20}
    record = empty(write, "08T08:00")
    here = comes_to(record)
    assert (here.through.left_then, here.through.put_in, here.through.held) == (40_000, 8_000_000, 20_000)
    assert [lot.code for lot in here.through.lots] == ["M002", "M003"]
    assert helds() == {"M001": 0, "M002": 0, "M003": 0}
    assert proved()


def test_a_delivery_written_late_is_counted_the_next_time(used: None, write: Write) -> None:
    empty(write, "05T08:00")
    delivery(write, "M003", "04T06:00", "1000")
    mash(write, "MA0003", "06T08:00", "995")
    here = comes_to(empty(write, "08T08:00"))
    assert (here.through.put_in, here.difference) == (1_000_000, 5_000)
    assert set(helds().values()) == {0}
    assert proved()


def test_a_silo_with_nothing_in_it_is_refused(write: Write) -> None:
    with pytest.raises(Unfit, match="No malt was put into silo S9"):
        empty(write, "05T08:00", silo="S9")


@pytest.mark.django_db
def test_the_limit_is_a_dated_row_with_its_source() -> None:
    row = UsualFigure.objects.get(name="difference of a silo that ran empty")
    assert (row.expected_millionths, row.unit, "common practice" in row.source) == (1_000_000, "%", True)
