"""Lots in the stores: received, issued, counted, disposed of, corrected and made void. Figures worked by hand."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from unittest import mock

import pytest

from batches.audit.opening_stores import open_stores
from batches.audit.proving_standing import prove_standing
from batches.audit.proving_stores import prove_stores
from batches.models import Record
from batches.records import recording
from batches.records.asking import Asked
from batches.sheets.materials.said import lines_of
from batches.sheets.register import sheet_of
from batches.sheets.typed.read_sheet import Unfit
from batches.stores.book import book_of, lot_meant
from batches.stores.kinds import MaterialKind
from batches.stores.models import Lot, StockEntry
from distillery.people.models import Person

Write = Callable[..., Record]
AT = datetime(2027, 3, 6, 8, tzinfo=UTC)

YEAST = {"material": "yeast", "what": "pressed yeast", "lot": "Y-1", "kilograms": "30", "yeast_form": "pressed"}
BOTTLES = {"material": "bottle", "what": "70 cl flint", "lot": "B-1", "pieces": "600"}


def held(kind: MaterialKind, code: str) -> int:
    lot = lot_meant(kind, code)
    assert lot is not None
    assert [line.held for line in book_of(lot)][-1:] in ([lot.held], [])
    return lot.held


def proved() -> bool:
    assert [*prove_stores(), *prove_standing()] == []
    return True


@pytest.fixture
def received(write: Write) -> Record:
    write("intake", "M001", received_at="2027-03-02T06:00", kilograms="1000")
    return write(
        "material_receipt", None, [YEAST, BOTTLES], received_at="2027-03-02T08:00", supplier="Harrowmere Mills"
    )


def pitch(write: Write, number: str, day: int, kilograms: str, lot: str = "Y-1") -> Record:
    mash = write("mash", f"MA000{number[-1]}", started_at=f"2027-03-{day:02}T05:00", malt_lot="M001", grist_kg="100")
    return write(
        "fermentation",
        number,
        mash=mash.number,
        washback="WB",
        yeast_lot=lot,
        yeast_kg=kilograms,
        pitched_at=f"2027-03-{day:02}T11:00",
        original_gravity="1.060",
    )


def test_a_receipt_opens_books_in_grams_and_pieces(received: Record) -> None:
    assert held(MaterialKind.YEAST, "y-1") == 30_000
    assert held(MaterialKind.BOTTLE, "B-1") == 600
    assert held(MaterialKind.MALT, "M001") == 1_000_000
    assert Lot.objects.get(key="y-1").name == "pressed yeast"
    assert proved()


def test_what_is_issued_names_the_version_that_says_it(received: Record, write: Write) -> None:
    record = pitch(write, "FE0001", 3, "12.5")
    assert held(MaterialKind.YEAST, "Y-1") == 17_500
    entry = StockEntry.objects.get(act="issued", lot__kind="yeast")
    assert (entry.version.record, entry.said, entry.field) == (record, 12_500, "yeast_kg")
    assert proved()


def test_a_correction_takes_back_by_the_opposite(received: Record, write: Write, staff: Person) -> None:
    record = pitch(write, "FE0001", 3, "12.5")
    recording.correct(record, {"yeast_kg": "13"}, person=staff, reason="read again", sure=True)
    assert held(MaterialKind.YEAST, "Y-1") == 17_000
    amounts = StockEntry.objects.filter(lot__kind="yeast", act="issued").order_by("pk").values_list("amount", flat=True)
    assert list(amounts) == [-12_500, 12_500, -13_000]
    recording.void(record, person=staff, reason="never pitched")
    assert held(MaterialKind.YEAST, "Y-1") == 30_000
    assert proved()


def test_a_lot_that_is_short_says_what_it_holds_and_offers_others(received: Record, write: Write) -> None:
    write("material_receipt", None, [{**YEAST, "lot": "Y-2"}], received_at="2027-03-02T09:00")
    with pytest.raises(Unfit) as unfit:
        pitch(write, "FE0001", 3, "31")
    assert [(one.field, one.row) for one in unfit.value.problems] == [("yeast_kg", None)]
    said = str(unfit.value)
    assert "Y-1 (yeast) holds 30.0 kg" in said
    assert "31.0 kg is asked" in said
    assert "Y-2 (30.0 kg)" in said
    assert not Record.objects.filter(number="FE0001").exists()
    assert proved()


def test_a_lot_that_was_never_received_has_uses_and_no_book(write: Write) -> None:
    write("intake", "M001", received_at="2027-03-02T06:00", kilograms="1000")
    pitch(write, "FE0001", 3, "31", lot="Y-9")
    lot = lot_meant(MaterialKind.YEAST, "Y-9")
    assert lot is not None
    assert not lot.is_here
    assert lot.entries.count() == 1
    assert proved()


def test_more_malt_than_its_book_is_asked_about_and_kept(received: Record, write: Write, staff: Person) -> None:
    values = {"started_at": "2027-03-03T05:00", "malt_lot": "M001", "grist_kg": "1200"}
    with pytest.raises(Asked) as asked:
        recording.save("mash", "MA0001", values, person=staff)
    assert "the book of lot M001 holds 1,000.0 kg" in str(asked.value)
    write("mash", "MA0001", **values)
    assert held(MaterialKind.MALT, "M001") == -200_000
    assert proved()


def test_a_receipt_made_void_cannot_leave_a_lot_below_nothing(received: Record, write: Write, staff: Person) -> None:
    second = write("material_receipt", None, [{**YEAST, "kilograms": "10"}], received_at="2027-03-02T09:00")
    pitch(write, "FE0001", 3, "35")
    with pytest.raises(Unfit) as unfit:
        recording.void(second, person=staff, reason="another site's")
    assert "FE0001 took 35.0 kg" in str(unfit.value)
    assert held(MaterialKind.YEAST, "Y-1") == 5_000
    assert proved()


def test_a_receipt_written_late_may_not_come_after_its_use(received: Record, write: Write, staff: Person) -> None:
    pitch(write, "FE0001", 3, "12")
    with pytest.raises(Unfit):
        recording.correct(received, {"received_at": "2027-03-05T08:00"}, person=staff, reason="came later", sure=True)
    assert proved()


def count(found: str, **more: str) -> dict[str, str]:
    return {"material": "yeast", "lot": "Y-1", "kilograms": found, "reason": "spilt", **more}


def test_a_count_waits_for_a_second_person_and_brings_the_book_to_what_was_found(
    received: Record, write: Write, manager: Person, staff: Person
) -> None:
    counted = write("material_count", None, [count("28")], counted_at="2027-03-06T08:00")
    assert held(MaterialKind.YEAST, "Y-1") == 30_000
    assert proved()
    recording.countersign(counted, manager)
    assert held(MaterialKind.YEAST, "Y-1") == 28_000
    # What was used before the count and written down after it changes what was missing, not what was found.
    pitch(write, "FE0001", 3, "1.5")
    assert held(MaterialKind.YEAST, "Y-1") == 28_000
    lot = lot_meant(MaterialKind.YEAST, "Y-1")
    assert lot is not None
    assert [line.entry.amount for line in book_of(lot)] == [30_000, -1_500, -500]
    assert proved()


def test_what_is_counted_has_a_book(write: Write) -> None:
    with pytest.raises(Unfit) as unfit:
        write("material_count", None, [count("28")], counted_at="2027-03-06T08:00")
    assert "was received here" in str(unfit.value)


def test_a_disposal_leaves_the_stores(received: Record, write: Write) -> None:
    line = {"material": "bottle", "lot": "B-1", "pieces": "12", "reason": "chipped"}
    write("material_disposal", None, [line], disposed_at="2027-03-06T08:00", went_to="glass bank")
    assert held(MaterialKind.BOTTLE, "B-1") == 588
    assert proved()


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ({**BOTTLES, "kilograms": "3"}, "leave this blank"),
        ({**BOTTLES, "pieces": ""}, "is blank"),
        ({name: text for name, text in YEAST.items() if name != "yeast_form"}, "has no form"),
        ({**YEAST, "lot": "Y-1", "what": "wild yeast"}, "pressed yeast already"),
    ],
)
def test_what_does_not_fit_its_material_is_refused(
    received: Record, write: Write, line: dict[str, str], sentence: str
) -> None:
    if sentence == "is blank":
        sentence = "write how many"
    with pytest.raises(Unfit) as unfit:
        write("material_receipt", None, [line], received_at="2027-03-04T08:00")
    assert sentence in str(unfit.value)


def test_an_entry_put_in_past_the_program_is_named(received: Record) -> None:
    entry = StockEntry.objects.get(lot__key="b-1")
    StockEntry.objects.create(
        lot=entry.lot,
        version=entry.version,
        act="issued",
        happened_at=entry.happened_at,
        amount=-1,
        said=1,
        field="pieces",
    )
    said = list(prove_stores())
    assert any("what the stores keep of it" in one for one in said)
    assert any("what it holds is not what its entries come to" in one for one in said)


def test_a_count_that_was_signed_is_changed_by_two(
    received: Record, write: Write, manager: Person, staff: Person
) -> None:
    counted = write("material_count", None, [count("28")], counted_at="2027-03-06T08:00")
    recording.countersign(counted, manager)
    counted = recording.correct(counted, {}, [count("27")], person=staff, reason="one tub less", sure=True)
    assert counted.state == "awaiting a second person"
    assert held(MaterialKind.YEAST, "Y-1") == 28_000
    assert proved()
    recording.countersign(counted, manager)
    assert held(MaterialKind.YEAST, "Y-1") == 27_000
    assert proved()
    counted.refresh_from_db()
    counted = recording.void(counted, person=staff, reason="counted the wrong store")
    assert held(MaterialKind.YEAST, "Y-1") == 27_000
    assert proved()
    recording.send_back(counted, person=manager, reason="it was the right one")
    assert held(MaterialKind.YEAST, "Y-1") == 27_000
    assert proved()
    counted.refresh_from_db()
    counted = recording.void(counted, person=staff, reason="counted the wrong store")
    recording.countersign(counted, manager)
    assert held(MaterialKind.YEAST, "Y-1") == 30_000
    assert proved()


def test_books_are_opened_for_what_was_written_before_there_were_any(write: Write, staff: Person) -> None:
    with mock.patch("batches.records.settling.keep_stock"):
        write("intake", "M001", received_at="2027-03-02T06:00", kilograms="1000")
        write("material_receipt", None, [YEAST, BOTTLES], received_at="2027-03-02T08:00")
        pitch(write, "FE0001", 3, "12.5")
    assert not Lot.objects.exists()
    assert len(list(prove_stores())) == 4
    assert open_stores() == (4, [])
    assert held(MaterialKind.YEAST, "Y-1") == 17_500
    assert held(MaterialKind.MALT, "M001") == 900_000
    assert proved()
    assert open_stores() == (0, [])


def test_bottles_closures_and_casks_are_pieces(received: Record, write: Write) -> None:
    cask = {"material": "cask", "what": "barrel, 200 litres", "lot": "C-1", "pieces": "2"}
    write("material_receipt", None, [cask], received_at="2027-03-02T09:00")
    assert held(MaterialKind.CASK, "C-1") == 2
    sheet = sheet_of("cask_fill")
    lines = list(lines_of(sheet, "CF0001", {"at": AT}, [{"cask_lot": "C-1"}, {}, {"cask_lot": "c-1"}]))
    assert [(line.lot, line.amount, line.row) for line in lines] == [("C-1", 1, 0), ("c-1", 1, 2)]
    bottled = {"at": AT, "bottle_lot": "B-1", "bottles_used": 412, "closure_lot": "K-1"}
    lines = list(lines_of(sheet_of("bottling"), "BO0001", bottled, []))
    assert [(line.kind, line.lot, line.amount) for line in lines] == [(MaterialKind.BOTTLE, "B-1", 412)]
