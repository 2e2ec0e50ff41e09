"""A sheet is read before the turn; what is written between that reading and the turn is read again, and refused there.

The plain plant: a litre a millimetre at 20 °C.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from typing import Any
from unittest import mock

import pytest

from batches.models import Posted, Record
from batches.records import handed, recording
from batches.records.recording import MovedOn
from batches.records.versions import newest, typed_of
from batches.sheets.typed.read_sheet import Unfit
from distillery.people.models import Person
from distillery.plant.keeping.vessels import add_tables, add_vessels
from distillery.plant.models import MICRO, CalibrationPoint, Kind, Stage, Vessel
from distillery.rules.in_force import usual_figure
from distillery.rules.models import UsualFigure
from distillery.seals.writing import signed
from ledger.models import Movement
from ledger.posting.turns import turn, written_so_far
from ledger.proof.proving import prove

from .posted_steps import SPIRIT_CHARGE, SPIRIT_FINISH
from .tiny_plant import gauge

Write = Callable[..., Record]

TRANSFER = {
    "at": "2027-03-02T08:00",
    "from_vessel": "VA",
    "to_vessel": "SP",
    **gauge("from_before", "1000", "60.0"),
    **gauge("from_after", "400", "60.0"),
    **gauge("to_before", "0"),
    **gauge("to_after", "600", "60.0"),
}


@contextmanager
def just_before_the_turn(write: Callable[[], object]) -> Iterator[None]:
    """Somebody else writes after the next sheet was read and before its turn comes."""
    left = [write]

    @contextmanager
    def late(*arguments: Any, **more: Any) -> Iterator[tuple[int, str]]:
        if left:
            left.pop()()
        with turn(*arguments, **more) as end:
            yield end

    with mock.patch.object(recording, "turn", late):
        yield


@contextmanager
def readings_counted() -> Iterator[list[str]]:
    """The numbers under which sheets were read."""
    read: list[str] = []
    real = handed.read_sheet

    def counted(*arguments: Any, **more: Any) -> Any:
        read.append(more["number"])
        return real(*arguments, **more)

    with mock.patch.object(handed, "read_sheet", counted):
        yield read


@pytest.fixture
def filled_vat(opened: Write) -> Record:
    return opened("VA", "1000", "60.0")


def test_where_nothing_is_written_meanwhile_a_sheet_is_read_once(write: Write, filled_vat: Record) -> None:
    with readings_counted() as read:
        record = write("transfer", None, **TRANSFER)
    assert read == [record.number]
    assert Posted.objects.filter(record=record).count() == 1


def test_nothing_is_held_while_the_sheet_is_read(write: Write, filled_vat: Record) -> None:
    """The reading is done before the turn is taken, not merely first in it."""
    order: list[str] = []
    real = handed.read_sheet

    def noted(*arguments: Any, **more: Any) -> Any:
        order.append("read")
        return real(*arguments, **more)

    with mock.patch.object(handed, "read_sheet", noted), just_before_the_turn(lambda: order.append("turn")):
        write("transfer", None, **TRANSFER)
    assert order == ["read", "turn"]


def test_a_number_taken_meanwhile_is_not_given_twice(write: Write, filled_vat: Record, opened: Write) -> None:
    other = {**TRANSFER, "at": "2027-03-01T07:00", "from_vessel": "BV", "to_vessel": "GI"}
    other |= gauge("from_before", "50", "40.0") | gauge("from_after", "0") | gauge("to_after", "50", "40.0")
    opened("BV", "50", "40.0")
    with readings_counted() as read, just_before_the_turn(lambda: write("transfer", None, **other)):
        record = write("transfer", None, **TRANSFER)
    first, second = Record.objects.filter(kind="transfer").order_by("pk")
    assert second == record
    assert first.number != second.number
    assert read == [first.number, first.number, second.number], "read ahead, by the other, and again in the turn"
    assert Movement.objects.filter(record_number=second.number).count() == 1
    assert prove().broken == []


def test_a_vessel_taken_meanwhile_is_refused_in_the_turn(write: Write, opened: Write) -> None:
    opened("LW", "1000", "24.0")
    opened("FE", "500", "36.0")
    with (
        just_before_the_turn(lambda: write("spirit_run", None, **SPIRIT_CHARGE)),
        pytest.raises(Unfit, match="SS holds spirit run SR0001"),
    ):
        write("spirit_run", None, **SPIRIT_CHARGE)
    assert Record.objects.filter(kind="spirit_run").count() == 1


def test_what_was_unfit_ahead_is_saved_where_it_fits_by_its_turn(write: Write, filled_vat: Record) -> None:
    def bring_in() -> None:
        vessel = Vessel(code="NV", name="New vat", kind=Kind.VAT, stage=Stage.NEW_SPIRIT, capacity_ul=5000 * MICRO)
        add_vessels([vessel])
        add_tables(CalibrationPoint(vessel=vessel, dip_um=mm * 1000, volume_ul=mm * MICRO) for mm in (0, 5000))

    with just_before_the_turn(bring_in):
        record = write("transfer", None, **{**TRANSFER, "to_vessel": "NV"})
    assert Movement.objects.filter(record_number=record.number).count() == 1


def test_what_another_adds_meanwhile_is_seen(write: Write, opened: Write, staff: Person) -> None:
    opened("LW", "1000", "24.0")
    opened("FE", "500", "36.0")
    run = write("spirit_run", None, **SPIRIT_CHARGE)
    added = {"spirit_on_at": "2027-03-05T09:00", "cut_on_percent": "75"}
    with just_before_the_turn(lambda: write("spirit_run", run.number, **added)), pytest.raises(MovedOn):
        recording.save("spirit_run", run.number, SPIRIT_FINISH, person=staff, seen=1, sure=True)
    assert newest(run).serial == 2
    finish = {name: text for name, text in SPIRIT_FINISH.items() if name not in added}
    with just_before_the_turn(lambda: write("spirit_run", run.number, cut_on_percent="74.5")):
        recording.save("spirit_run", run.number, finish, person=staff, sure=True)
    typed, _rows = typed_of(newest(run))
    assert typed["cut_on_percent"] == "74.5"
    assert prove().broken == []


def test_a_rule_set_meanwhile_is_read_again(write: Write, filled_vat: Record) -> None:
    day = date(2027, 3, 2)
    assert usual_figure("of no step", day) is None

    @signed("tests")
    def set_rule() -> None:
        # As another process would: this thread goes on with the rules it has read.
        UsualFigure.objects.create(name="of no step", from_day=day, spread_millionths=1, source="tests")

    with just_before_the_turn(set_rule):
        write("transfer", None, **TRANSFER)
    assert usual_figure("of no step", day) is not None


def test_inside_another_piece_of_writing_nothing_is_read_ahead(write: Write, filled_vat: Record) -> None:
    with readings_counted() as read, turn():
        record = write("transfer", None, **TRANSFER)
        assert read == [record.number]
        write("transfer", record.number, remark="")
    assert len(read) == 2


@pytest.mark.parametrize("kind", ["movement", "entry"])
def test_how_far_it_is_written_moves_with_either(kind: str, write: Write, filled_vat: Record) -> None:
    before = written_so_far()
    if kind == "movement":
        write("transfer", None, **TRANSFER)
    else:
        add_vessels([Vessel(code="NV", name="New vat", kind=Kind.VAT, stage=Stage.NEW_SPIRIT)])
    after = written_so_far()
    assert after != before
    assert (after[0] > before[0]) == (kind == "movement")


def test_a_correction_reads_its_sheet_before_the_turn(write: Write, filled_vat: Record, staff: Person) -> None:
    record = write("transfer", None, **TRANSFER)
    order: list[str] = []
    real = handed.read_sheet

    def noted(*arguments: Any, **more: Any) -> Any:
        order.append("read")
        return real(*arguments, **more)

    with mock.patch.object(handed, "read_sheet", noted), just_before_the_turn(lambda: order.append("turn")):
        recording.correct(record, gauge("to_after", "599", "60.0"), person=staff, reason="Misread.", sure=True)
    assert order == ["read", "turn"]
    assert prove().broken == []


def test_a_correction_stands_on_what_was_corrected_meanwhile(write: Write, filled_vat: Record, staff: Person) -> None:
    record = write("transfer", None, **TRANSFER)
    other = gauge("from_after", "401", "60.0")
    mine = gauge("to_after", "599", "60.0")

    def first() -> None:
        recording.correct(record, other, person=staff, reason="Misread.", sure=True)

    with readings_counted() as read, just_before_the_turn(first):
        recording.correct(record, mine, person=staff, reason="Misread too.", sure=True)
    assert read == [record.number] * 3, "ahead, by the other, and again in the turn"
    typed, _ = typed_of(newest(record))
    assert {**typed, **other, **mine} == typed
    assert newest(record).serial == 3
    assert prove().broken == []


def test_a_correction_that_says_nothing_new_after_another_is_refused(
    write: Write, filled_vat: Record, staff: Person
) -> None:
    record = write("transfer", None, **TRANSFER)
    mine = gauge("to_after", "599", "60.0")

    def first() -> None:
        recording.correct(record, mine, person=staff, reason="Misread.", sure=True)

    with just_before_the_turn(first), pytest.raises(Unfit, match="Nothing is different"):
        recording.correct(record, mine, person=staff, reason="Misread.", sure=True)
    assert newest(record).serial == 2
