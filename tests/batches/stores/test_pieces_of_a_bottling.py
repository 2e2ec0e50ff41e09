"""Bottles and closures of a bottling by lot: posted, put right, made void, and refused where a lot is short.

400 bottles of 70 cL at 40.0 % vol are 112 litres of pure alcohol, as 280 litres of the vat are. Numbers are invented.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from batches.audit.proving_stores import prove_stores
from batches.models import Record
from batches.records import recording
from batches.sheets.typed.read_sheet import Unfit
from batches.stores.book import lot_meant
from batches.stores.kinds import MaterialKind
from distillery.people.models import Person
from tests.batches.tiny_plant import gauge

Write = Callable[..., Record]
BOTTLES = {"material": "bottle", "what": "70 cL, clear", "lot": "B-1", "pieces": "500"}
CLOSURES = {"material": "closure", "what": "cork stopper", "lot": "S-1", "pieces": "450"}
OTHERS = {"material": "closure", "what": "cork stopper", "lot": "S-2", "pieces": "900"}
USED = {"bottle_lot": "B-1", "bottles_used": "412", "closure_lot": "S-1", "closures_used": "405"}


def held() -> tuple[int, int]:
    lots = lot_meant(MaterialKind.BOTTLE, "B-1"), lot_meant(MaterialKind.CLOSURE, "S-1")
    bottles, closures = (lot.held for lot in lots if lot is not None)
    assert list(prove_stores()) == []
    return bottles, closures


@pytest.fixture
def bottle(opened: Write, write: Write) -> Callable[..., Record]:
    opened("VA", "1000", "40.0")
    write("material_receipt", None, [BOTTLES, CLOSURES, OTHERS], received_at="2027-03-02T08:00")

    def save(number: str, day: int, before: str, after: str, **more: str) -> Record:
        return write(
            "bottling",
            number,
            at=f"2027-03-{day:02}T10:00",
            vat="VA",
            lot_code=f"L{day}",
            product="Harrowmere",
            bottle_centilitres="70",
            label_percent="40.0",
            bottles="400",
            **gauge("vat_before", before, "40.0"),
            **gauge("vat_after", after, "40.0"),
            **{**USED, **more},
        )

    return save


def test_a_bottling_takes_its_bottles_and_closures(bottle: Callable[..., Record], staff: Person) -> None:
    record = bottle("BO0001", 4, "1000", "720")
    assert held() == (88, 45)
    recording.correct(record, {"bottles_used": "420"}, person=staff, reason="counted again", sure=True)
    assert held() == (80, 45)
    recording.correct(record, {"closure_lot": "S-2"}, person=staff, reason="the other box", sure=True)
    assert held() == (80, 450)
    recording.void(record, person=staff, reason="another lot")
    assert held() == (500, 450)


def test_a_lot_that_is_short_says_what_it_holds_and_which_there_are(bottle: Callable[..., Record]) -> None:
    bottle("BO0001", 4, "1000", "720")
    with pytest.raises(Unfit) as refused:
        bottle("BO0002", 5, "720", "440", bottles_used="80", closures_used="60")
    (problem,) = refused.value.problems
    assert problem.field == "closures_used"
    assert "Lot S-1 (closure) holds 45 pieces" in problem.sentence
    assert "60 pieces is asked" in problem.sentence
    assert "S-2 (900 pieces)" in problem.sentence
    assert held() == (88, 45)


def test_a_correction_that_takes_too_much_changes_nothing(bottle: Callable[..., Record], staff: Person) -> None:
    record = bottle("BO0001", 4, "1000", "720")
    with pytest.raises(Unfit, match="holds 500 pieces"):
        recording.correct(record, {"bottles_used": "501"}, person=staff, reason="counted again", sure=True)
    assert held() == (88, 45)


def test_a_receipt_whose_pieces_were_used_is_not_taken_back(bottle: Callable[..., Record], staff: Person) -> None:
    bottle("BO0001", 4, "1000", "720")
    receipt = Record.objects.get(kind="material_receipt")
    with pytest.raises(Unfit, match="BO0001"):
        recording.correct(
            receipt, {}, [{**BOTTLES, "pieces": "300"}, CLOSURES, OTHERS], person=staff, reason="counted", sure=True
        )
    assert held() == (88, 45)
