"""A cask bought is a piece of its lot until it is filled under a number, then a vessel, and leaves its lot once."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from batches.audit.proving_stores import prove_stores
from batches.models import Record
from batches.records import recording
from batches.records.asking import Asked
from batches.sheets.typed.read_sheet import Unfit
from batches.stores.book import lot_meant
from batches.stores.kinds import MaterialKind
from distillery.people.models import Person
from distillery.plant.models import Vessel
from tests.batches.tiny_plant import gauge

Write = Callable[..., Record]
LOT = {"material": "cask", "what": "barrel, 200 litres", "lot": "K-7", "pieces": "2"}
WEIGHED = {"tare_kg": "50.0", "gross_kg": "139.5", "celsius": "20.0", "hydrometer_percent": "63.5"}
NEW = {"cask": "2027/0101", "cask_kind": "barrel", "nominal_litres": "200", "cask_lot": "K-7", **WEIGHED}


def in_stock() -> int:
    lot = lot_meant(MaterialKind.CASK, "K-7")
    assert lot is not None
    return lot.held


@pytest.fixture
def fill(opened: Write, write: Write, staff: Person) -> Callable[..., Record]:
    opened("VA", "1000", "63.5")
    write("material_receipt", None, [LOT], received_at="2027-03-02T08:00")

    def save(day: int, line: dict[str, str], before: str = "1000", after: str = "900") -> Record:
        vat = {"vat": "VA", **gauge("vat_before", before, "63.5"), **gauge("vat_after", after, "63.5")}
        values = {"at": f"2027-03-{day:02}T10:00", **vat}
        try:
            return recording.save("cask_fill", None, values, [line], person=staff)
        except Asked as asked:
            agreed = {question.key for question in asked.questions}
            return recording.save("cask_fill", None, values, [line], person=staff, sure=agreed)

    return save


def test_a_cask_entered_with_its_fill_takes_one_piece(fill: Callable[..., Record], staff: Person) -> None:
    record = fill(4, NEW)
    assert Vessel.objects.filter(code="2027/0101").exists()
    assert in_stock() == 1
    recording.correct(record, {}, [{**NEW, "gross_kg": "140"}], person=staff, reason="read again", sure=True)
    assert in_stock() == 1
    assert list(prove_stores()) == []


def test_the_same_cask_never_takes_two(fill: Callable[..., Record], staff: Person) -> None:
    first = fill(4, NEW)
    recording.void(first, person=staff, reason="another cask")
    assert in_stock() == 2
    again = fill(5, NEW)
    assert in_stock() == 1
    with pytest.raises(Unfit) as unfit:
        fill(6, {**NEW, "cask": "2027/101"}, "900", "800")
    said = str(unfit.value)
    assert f"left lot K-7 with {again.number}" in said
    assert in_stock() == 1
    assert list(prove_stores()) == []


def test_a_lot_with_no_cask_left_is_short(fill: Callable[..., Record]) -> None:
    fill(4, NEW)
    fill(5, {**NEW, "cask": "2027/0102"}, "900", "800")
    with pytest.raises(Unfit) as unfit:
        fill(6, {**NEW, "cask": "2027/0103"}, "800", "700")
    assert "holds 0 pieces" in str(unfit.value)
    assert not Vessel.objects.filter(code="2027/0103").exists()


@pytest.fixture
def number(write: Write, staff: Person) -> Callable[..., Record]:
    def save(*lines: dict[str, str], day: int = 3) -> Record:
        values = {"at": f"2027-03-{day:02}T09:00"}
        try:
            return recording.save("cask_numbering", None, values, list(lines), person=staff)
        except Asked as asked:
            agreed = {question.key for question in asked.questions}
            return recording.save("cask_numbering", None, values, list(lines), person=staff, sure=agreed)

    return save


PLACED = {"cask": "2027/0101", "cask_kind": "barrel", "nominal_litres": "200", "warehouse": "W2", "cask_lot": "K-7"}


def test_a_cask_numbered_before_it_is_filled_takes_its_piece_once(
    fill: Callable[..., Record], number: Callable[..., Record], staff: Person
) -> None:
    record = number(PLACED)
    assert Vessel.objects.get(code="2027/0101").cask.warehouse == "W2"
    assert in_stock() == 1
    with pytest.raises(Unfit, match=f"left lot K-7 with {record.number}"):
        fill(4, NEW)
    fill(4, {**NEW, "cask_lot": ""})
    assert in_stock() == 1
    with pytest.raises(Unfit, match="is full already"):
        number(PLACED, day=5)
    assert list(prove_stores()) == []


def test_a_numbering_made_void_gives_the_piece_back(
    fill: Callable[..., Record], number: Callable[..., Record], staff: Person
) -> None:
    record = number(PLACED)
    recording.void(record, person=staff, reason="another cask")
    assert in_stock() == 2
    fill(4, NEW)
    assert in_stock() == 1
    assert list(prove_stores()) == []


def test_a_cask_numbered_without_its_lot_takes_none_and_stands_on_one_line(
    fill: Callable[..., Record], number: Callable[..., Record]
) -> None:
    number({**PLACED, "cask_lot": ""})
    assert in_stock() == 2
    with pytest.raises(Unfit, match="stands on line 1 already"):
        number({**PLACED, "cask": "2027/0102"}, {**PLACED, "cask": "2027/0102"}, day=4)
    assert in_stock() == 2


def test_a_cask_written_to_another_lot_goes_back_to_its_own(
    fill: Callable[..., Record], write: Write, staff: Person
) -> None:
    write("material_receipt", None, [{**LOT, "lot": "K-8"}], received_at="2027-03-02T09:00")
    record = fill(4, NEW)
    recording.correct(record, {}, [{**NEW, "cask_lot": "K-8"}], person=staff, reason="the other lot", sure=True)
    other = lot_meant(MaterialKind.CASK, "K-8")
    assert (in_stock(), other and other.held) == (2, 1)
    assert list(prove_stores()) == []
