"""What a sheet refuses, with the field, the value and the limit in the sentence; and what it keeps with a note.

Limits of temperature and strength are those of the density formula (OIML R 22:1975). Figures are invented.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import pytest

from batches.models import Record, Version
from batches.records import recording
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Unfit, read_sheet
from batches.steps import sheet_of
from distillery.people.models import Person
from distillery.plant.models import Kind, Stage, Vessel
from ledger.models import Movement

from .tiny_plant import gauge

Write = Callable[..., Record]

TRANSFER = {
    "at": "2027-03-06T08:00",
    "from_vessel": "SP",
    "to_vessel": "VA",
    **gauge("from_before", "500", "70.0"),
    **gauge("to_before", "1000", "68.0"),
    **gauge("from_after", "0"),
    **gauge("to_after", "1500", "68.7"),
}


def problems(
    kind: str, values: Mapping[str, str], rows: Sequence[Mapping[str, str]] = (), *, strict: bool = False
) -> list[tuple[str, str]]:
    filled = read_sheet(sheet_of(kind), values, rows, site=Site(), strict=strict)
    return [(problem.field, problem.sentence) for problem in filled.problems]


def without(values: Mapping[str, str], *names: str) -> dict[str, str]:
    return {name: cell for name, cell in values.items() if name not in names}


@pytest.mark.parametrize(
    ("changed", "field", "sentence"),
    [
        ({"from_vessel": "XX"}, "from_vessel", "From vessel: there is no vessel XX on this site."),
        ({"to_vessel": "WB"}, "to_vessel", "To vessel: WB is a washback; a receiver or vat or tank goes here."),
        ({"to_vessel": "SP"}, "to_vessel", "To vessel is SP, the vessel it is moved from."),
        (
            {"from_before_dip_mm": "5001"},
            "from_before_dip_mm",
            "From vessel before: dip: A dip of 5001 mm is outside the table of SP, which runs from 0 to 5000 mm.",
        ),
        ({"from_before_dip_mm": "-1"}, "from_before_dip_mm", "From vessel before: dip is -1; it cannot be below 0 mm."),
        (
            {"from_before_hydrometer_percent": "101"},
            "from_before_hydrometer_percent",
            "From vessel before: hydrometer reading is 101; it cannot be above 100 % vol.",
        ),
        (
            {"from_before_celsius": "41"},
            "from_before_celsius",
            "From vessel before: temperature is 41; it cannot be above 40 °C.",
        ),
        (
            {"from_before_celsius": "-21"},
            "from_before_celsius",
            "From vessel before: temperature is -21; it cannot be below -20 °C.",
        ),
        (
            {"from_before_hydrometer_percent": ""},
            "from_before_hydrometer_percent",
            "From vessel before: a dip of 500 mm in SP is 500.0 litres, so the hydrometer reading is needed too; it "
            "may be left out only when the vessel is empty.",
        ),
        (
            {"from_before_celsius": ""},
            "from_before_celsius",
            "From vessel before: a dip of 500 mm in SP is 500.0 litres, so the temperature reading is needed too; it "
            "may be left out only when the vessel is empty.",
        ),
        ({"to_after_dip_mm": ""}, "to_after_dip_mm", "To vessel after: dip is blank; it is needed for the transfer."),
        ({"at": ""}, "at", "Moved at is blank; say when, then the rest can be kept."),
        ({"colour": "amber"}, "colour", "Transfer has no field colour."),
    ],
)
def test_a_transfer_that_cannot_be(plain_plant: None, changed: dict[str, str], field: str, sentence: str) -> None:
    found = problems("transfer", {**TRANSFER, **changed})
    assert [name for name, _said in found] == [field]
    assert found[0][1].startswith(sentence)


def test_all_that_is_wrong_is_said_at_once(plain_plant: None) -> None:
    changed = {"from_vessel": "XX", "to_after_dip_mm": "9999", "from_before_celsius": "warm"}
    assert {name for name, _said in problems("transfer", {**TRANSFER, **changed})} == set(changed)


def test_an_empty_vessel_needs_neither_temperature_nor_hydrometer(plain_plant: None) -> None:
    assert problems("transfer", without(TRANSFER, "from_after_celsius")) == []


def test_a_strength_that_the_temperature_makes_impossible_is_refused(plain_plant: None) -> None:
    # 99 % vol shown at 0 °C would be over 100 % vol at 20 °C.
    changed = {"from_before_hydrometer_percent": "99.5", "from_before_celsius": "0"}
    [(field, sentence)] = problems("transfer", {**TRANSFER, **changed})
    assert field == "from_before_hydrometer_percent"
    assert sentence.startswith("From vessel before: ")


@pytest.fixture
def mashed(write: Write) -> None:
    write("intake", "M001", received_at="2027-03-01T06:00", kilograms="1000")
    write("mash", "MA0001", started_at="2027-03-01T06:00", malt_lot="M001", grist_kg="800")


FERMENTED = {
    "mash": "MA0001",
    "washback": "WB",
    "pitched_at": "2027-03-01T11:00",
    "original_gravity": "1.0600",
    "ended_at": "2027-03-04T11:00",
    "final_gravity": "0.9980",
    "final_dip_mm": "1000",
    "final_celsius": "34",
}


@pytest.mark.parametrize(
    ("changed", "field", "sentence"),
    [
        ({"mash": "MA0099"}, "mash", "Mash: there is no record MA0099 to refer to."),
        (
            {"ended_at": "2027-02-28T11:00"},
            "ended_at",
            "Ended at is Sun 28 Feb 2027 11:00, before pitched at (Mon 1 Mar 2027 11:00).",
        ),
        ({"final_celsius": "40.5"}, "final_celsius", "Final gauge: temperature is 40.5; it cannot be above 40 °C."),
        (
            {"final_gravity": ""},
            "final_gravity",
            "Final gravity is blank; it is needed for the declaration of the wash.",
        ),
        (
            {"final_gravity": "1.0700"},
            "final_gravity",
            "Final gauge: The present gravity 1.07",
        ),
        ({"original_gravity": "0.9900"}, "final_gravity", "Final gauge: The present gravity 0.998"),
        ({"washback": "VA"}, "washback", "Washback: VA is a vat; a washback goes here."),
        ({"ended_at": "noon"}, "ended_at", "Ended at: 'noon' is not a time"),
    ],
)
def test_a_fermentation_that_cannot_be(mashed: None, changed: dict[str, str], field: str, sentence: str) -> None:
    found = problems("fermentation", {**FERMENTED, **changed})
    assert [name for name, _said in found] == [field]
    assert found[0][1].startswith(sentence)


def test_wash_may_be_warm(mashed: None) -> None:
    assert problems("fermentation", FERMENTED) == []


def test_a_record_may_wait_for_its_finish_but_a_table_may_not_hide_one(mashed: None) -> None:
    waiting = without(FERMENTED, "ended_at")
    assert problems("fermentation", waiting) == []
    assert problems("fermentation", waiting, strict=True) == [
        ("ended_at", "Ended at is blank, but final_gravity is written; without a time it cannot go into the books.")
    ]


def test_wash_is_not_charged_before_it_is_declared(mashed: None, write: Write, opened: Callable[..., Record]) -> None:
    opened("LW", "100", "25")
    write(
        "fermentation", "FE0001", mash="MA0001", washback="WB", pitched_at="2027-03-01T11:00", original_gravity="1.06"
    )
    charge = {
        "still": "WS",
        "fermentation": "FE0001",
        "washback": "WB",
        "charged_at": "2027-03-04T12:00",
        "receiver": "LW",
        "washback_before_dip_mm": "1000",
        "washback_before_celsius": "20",
        "washback_after_dip_mm": "0",
        **gauge("receiver_before", "100", "25"),
    }
    assert problems("wash_run", charge)[0] == (
        "fermentation",
        "FE0001 has no final gravity yet; declare it before its wash is gauged.",
    )


def test_more_grist_than_the_lot_holds_is_kept_and_noted(mashed: None, write: Write) -> None:
    record = write("mash", "MA0002", started_at="2027-03-02T06:00", malt_lot="M001", grist_kg="900")
    assert "Grist is 900.0 kg, but the book of lot M001 holds 200.0 kg." in Version.objects.get(record=record).notes


def test_an_unusual_strength_is_kept_and_noted(plain_plant: None) -> None:
    filled = read_sheet(
        sheet_of("opening_stock"),
        {"vessel": "VA", "at": "2027-03-01T06:00", **gauge("gauge", "1000", "60", "33")},
        site=Site(),
    )
    assert filled.problems == []
    assert [note.sentence for note in filled.notes] == ["Gauge: temperature is 33; unlikely: usual 5 to 30 °C."]


def test_a_vessel_is_opened_once(write: Write, opened: Callable[..., Record], staff: Person) -> None:
    opened("VA", "1000", "60")
    with pytest.raises(Unfit) as refused:
        opened("VA", "900", "60")
    assert "VA already has entries in the books" in refused.value.problems[0].sentence


def test_only_an_empty_washback_is_gauged_by_hydrometer(plain_plant: None) -> None:
    values = {"vessel": "WB", "at": "2027-03-01T06:00"}
    assert problems("opening_stock", values | gauge("gauge", "0")) == []
    assert problems("opening_stock", values | gauge("gauge", "900", "8")) == [
        (
            "vessel",
            "WB is a washback: what it holds is declared by its fermentation, so only an empty one is gauged here.",
        )
    ]
    rows = [{"vessel": "WB", **gauge("gauge", "900", "8")}]
    assert problems("stock_take", {"at": "2027-03-01T06:00"}, rows)[0][0] == "vessel"


def test_another_washback_than_the_mash_was_sent_to_is_noted(mashed: None, write: Write) -> None:
    write(
        "mash",
        "MA0001",
        ended_at="2027-03-01T11:00",
        wort_litres="1000",
        wort_gravity="1.0600",
        wort_celsius="18",
        washback="WB",
    )
    Vessel.objects.create(code="WC", name="Washback 2", kind=Kind.WASHBACK, stage=Stage.WASH)
    values = without(FERMENTED, "ended_at", "final_gravity", "final_dip_mm", "final_celsius")
    filled = read_sheet(sheet_of("fermentation"), {**values, "washback": "WC"}, site=Site())
    [note] = filled.notes
    assert (note.field, note.sentence, note.instead) == ("washback", "MA0001 was sent to WB, not to WC.", "WB")


def test_a_number_is_not_longer_than_it_can_be_kept(plain_plant: None, staff: Person) -> None:
    with pytest.raises(Unfit, match="a number has at most 40"):
        recording.save("transfer", "T" * 41, TRANSFER, person=staff)


CASK = {"cask": "C1", "tare_kg": "50", "gross_kg": "230", "celsius": "20", "hydrometer_percent": "63.5"}
FILL = {
    "at": "2027-03-07T08:00",
    "vat": "VA",
    **gauge("vat_before", "1000", "63.5"),
    **gauge("vat_after", "700", "63.5"),
}


@pytest.mark.parametrize(
    ("rows", "field", "sentence"),
    [
        ([], "cask", "There is no cask; write at least one."),
        ([CASK, CASK], "cask", "Cask C1 stands on line 1 already."),
        ([CASK | {"cask": "C9"}], "cask", "Cask: there is no vessel C9 on this site."),
        ([CASK | {"gross_kg": "40"}], "gross_kg", "Cask: The gross weight 40 kg is below the tare 50 kg"),
        ([CASK | {"tare_kg": ""}], "tare_kg", "Tare is blank on line 1; write tare and gross, or the litres by meter"),
        ([CASK | {"shelf": "2"}], "shelf", "Cask fill has no field shelf on its lines."),
    ],
)
def test_casks_that_cannot_be_filled(plain_plant: None, rows: list[dict[str, str]], field: str, sentence: str) -> None:
    found = problems("cask_fill", FILL, rows)
    assert found[0][0] == field
    assert found[0][1].startswith(sentence)


def test_a_full_cask_is_not_filled_again(write: Write, opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "63.5")
    write("cask_fill", "CF0001", [CASK], **FILL)
    with pytest.raises(Unfit) as refused:
        write("cask_fill", "CF0002", [CASK], **{**FILL, "at": "2027-03-08T08:00"})
    [problem] = refused.value.problems
    assert (problem.field, problem.row) == ("cask", 0)
    assert problem.sentence.startswith("Cask C1 is full already: its book holds 126.99 ")
    assert "since Sun 7 Mar 2027 08:00 (CF0001). Choose another cask, or write first where" in problem.sentence


def test_a_cask_far_over_its_size_is_noted(write: Write, opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "63.5")
    record = write("cask_fill", "CF0001", [CASK | {"gross_kg": "280"}], **FILL)
    assert "its size is 200 litres" in Version.objects.get(record=record).notes


def test_an_empty_cask_is_not_regauged(plain_plant: None) -> None:
    assert problems("regauge", {"at": "2027-03-07T08:00", **CASK}) == [
        ("cask", "Cask C1 is empty in the books at that time, so there is nothing to regauge.")
    ]


BOTTLES = {"product": "gin", "bottle_centilitres": "70", "label_percent": "41.4"}


def test_more_bottles_than_there_are_do_not_leave(write: Write) -> None:
    write("opening_bottled_stock", at="2027-03-01T06:00", bottles="100", **BOTTLES)
    leave: dict[str, str] = {**BOTTLES, "kind": "export", "at": "2027-03-02T06:00"}
    assert problems("removal", {**leave, "bottles": "101"}) == [
        ("bottles", "Bottles is 101, but there are 100 bottles of gin, 70 cl at 41.4 % in bond at that time.")
    ]
    assert problems("removal", {**leave, "bottles": "100"}) == []
    assert problems("removal", {**leave, "bottles": "1", "label_percent": "40"})[0][1].startswith(
        "Bottles is 1, but there are 0 bottles of gin, 70 cl at 40 %"
    )


def test_a_late_removal_leaves_what_a_later_one_took(write: Write, staff: Person) -> None:
    write("opening_bottled_stock", at="2027-03-01T06:00", bottles="100", **BOTTLES)
    leave: dict[str, str] = {**BOTTLES, "kind": "export"}
    recording.save("removal", None, {**leave, "at": "2027-03-05T06:00", "bottles": "80"}, person=staff)
    with pytest.raises(Unfit, match="there are 20 bottles"):
        recording.save("removal", None, {**leave, "at": "2027-03-02T06:00", "bottles": "21"}, person=staff)
    recording.save("removal", None, {**leave, "at": "2027-03-02T06:00", "bottles": "20"}, person=staff)


def test_a_removal_before_any_duty_rate_says_which_rate_to_enter(write: Write, staff: Person) -> None:
    write("opening_bottled_stock", at="1990-03-01T06:00", bottles="100", **BOTTLES)
    values = {**BOTTLES, "kind": "home use", "at": "1990-03-02T06:00", "bottles": "1"}
    with pytest.raises(Unfit, match="No duty rate is set for"):
        recording.save("removal", None, values, person=staff, sure=True)


def test_nothing_is_written_when_anything_is_wrong(plain_plant: None, staff: Person) -> None:
    with pytest.raises(Unfit):
        recording.save("transfer", None, {**TRANSFER, "to_after_dip_mm": "9999"}, person=staff)
    assert (Record.objects.count(), Version.objects.count(), Movement.objects.count()) == (0, 0, 0)


def test_an_officer_reads_and_does_not_write(plain_plant: None, officer: Any) -> None:
    with pytest.raises(Unfit, match="may read but not write"):
        recording.save("transfer", None, TRANSFER, person=officer)


def test_a_label_without_strength_is_refused_where_it_is_read(plain_plant: None, staff: Person) -> None:
    """Bottles that hold no alcohol are no stock of spirit; before, looking for such a stock ended in an error."""
    typed = {"at": "2027-03-09T08:00", "product": "Gin", "bottle_centilitres": "70", "label_percent": "0"}
    for kind, more in (("removal", {"bottles": "6", "kind": "home use"}), ("opening_bottled_stock", {"bottles": "6"})):
        with pytest.raises(Unfit) as refused:
            recording.save(kind, None, typed | more, person=staff, sure=True)
        assert any(problem.field == "label_percent" for problem in refused.value.problems)
