"""Washbacks that hold wash when stock is taken: gauged as wash once declared, noted while they ferment.

A litre a millimetre at 20 °C. Wash that fell from 1.0600 to 0.9980 is of 8.184 % vol by the gravity factors, as in the
tests of the steps; all else is worked by hand. Invented plant and month.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.management import call_command

from batches.models import Record
from batches.records import recording
from batches.records.versions import newest
from batches.sheets.typed.read_sheet import Unfit
from distillery.people.models import Person
from ledger.models import Balance, Gauge, Movement
from ledger.proof.proving import prove
from ledger.statements.month import month_account
from tests.batches import tiny_month
from tests.batches.tiny_plant import gauge

pytestmark = pytest.mark.django_db

Write = Callable[..., Record]
AT = {"at": "2027-03-31T06:00"}
LITRES_OF_ALCOHOL = 0.08184


@pytest.fixture
def mashed(write: Write) -> None:
    write("intake", "M001", received_at="2027-03-01T06:00", kilograms="10000")
    write(
        "mash",
        "MA0001",
        started_at="2027-03-01T06:00",
        ended_at="2027-03-01T11:00",
        malt_lot="M001",
        grist_kg="500",
        wort_litres="1000",
        wort_gravity="1.0600",
        wort_celsius="18",
        washback="WB",
    )


@pytest.fixture
def pitched(mashed: None, write: Write) -> Record:
    return write(
        "fermentation",
        "FE0001",
        mash="MA0001",
        washback="WB",
        pitched_at="2027-03-01T11:00",
        original_gravity="1.0600",
    )


def declare(write: Write, ended: str = "2027-03-04T11:00") -> Record:
    return write(
        "fermentation", "FE0001", ended_at=ended, final_gravity="0.9980", final_dip_mm="1000", final_celsius="20"
    )


def book() -> float:
    row = Balance.objects.filter(account__code="vessel:WB").first()
    return row.balance_ul / 1e6 if row else 0.0


def take(staff: Person, manager: Person, *rows: dict[str, str], **wash: str) -> Record:
    lines = [*rows, {"vessel": "WB", **wash}]
    return recording.save("stock_take", None, AT, lines, person=staff, second=manager)


def test_wash_that_waits_is_gauged_by_its_dip_and_gravities(
    pitched: Record, write: Write, staff: Person, manager: Person
) -> None:
    declare(write)
    taken = take(staff, manager, gauge_dip_mm="990", gauge_celsius="20", present_gravity="0.9980")
    assert book() == pytest.approx(990 * LITRES_OF_ALCOHOL, abs=0.01)
    found = Gauge.objects.get(movement__record_number=taken.number)
    assert (found.method, json.loads(found.raw)["present_gravity"]) == ("wash dip", "0.9980")
    # The original gravity is the reading that stands on the fermentation, the present one that of the stock take.
    readings = {one["part"]: (one["of"], one["column"]) for one in json.loads(found.chain)["readings"]}
    assert readings["original_gravity"] == ("FE0001", "original_gravity")
    assert readings["final_gravity"] == ("", "present_gravity")
    assert newest(taken).notes == "[]"


def test_a_present_gravity_that_was_not_read_is_the_final_one(
    pitched: Record, write: Write, staff: Person, manager: Person
) -> None:
    declare(write)
    take(staff, manager, gauge_dip_mm="1000", gauge_celsius="20")
    assert book() == pytest.approx(1000 * LITRES_OF_ALCOHOL, abs=0.01)


def test_wash_that_ferments_is_noted_and_not_posted(
    pitched: Record, write: Write, opened: Write, staff: Person, manager: Person
) -> None:
    opened("VA", "1000", "60.0")
    taken = take(
        staff,
        manager,
        {"vessel": "VA", **gauge("gauge", "1010", "60.0")},
        gauge_dip_mm="1000",
        gauge_celsius="28",
        present_gravity="1.0200",
    )
    assert book() == 0.0
    assert [one.account.code for one in Gauge.objects.filter(movement__record_number=taken.number)] == ["vessel:VA"]
    assert "WB: FE0001 ferments; 1000.0 litres by dip are noted" in newest(taken).notes


def test_nothing_is_posted_where_all_that_was_dipped_ferments(pitched: Record, staff: Person, manager: Person) -> None:
    taken = take(staff, manager, gauge_dip_mm="1000", gauge_celsius="28")
    assert (taken.state, Movement.objects.filter(record_number=taken.number).exists()) == ("complete", False)


def test_wort_that_is_not_pitched_is_noted(mashed: None, staff: Person, manager: Person) -> None:
    taken = take(staff, manager, gauge_dip_mm="1000", gauge_celsius="20")
    assert "WB: MA0001 is not pitched yet" in newest(taken).notes


def test_a_fermentation_declared_or_put_right_later_brings_the_stock_take_with_it(
    pitched: Record, write: Write, opened: Write, staff: Person, manager: Person
) -> None:
    opened("VA", "1000", "60.0")
    taken = take(
        staff, manager, {"vessel": "VA", **gauge("gauge", "1010", "60.0")}, gauge_dip_mm="990", gauge_celsius="20"
    )
    fermentation = declare(write)
    assert book() == pytest.approx(990 * LITRES_OF_ALCOHOL, abs=0.01)
    recording.correct(fermentation, {"original_gravity": "1.0500"}, person=staff, reason="read again")
    gauges = Gauge.objects.standing().filter(movement__record_number=taken.number, account__code="vessel:WB")
    # 52 degrees instead of 62, of the same band of the factors or the one below: a sixth less.
    assert gauges.get().pure_ul / 1e6 == pytest.approx(990 * LITRES_OF_ALCOHOL * 52 / 62, rel=0.02)
    assert prove().broken == []


@pytest.mark.parametrize(
    ("readings", "field", "sentence"),
    [
        ({"gauge_hydrometer_percent": "8"}, "gauge_hydrometer_percent", "tells nothing; leave this blank"),
        ({"present_gravity": "1.0700"}, "present_gravity", "gravity"),
        ({"gauge_celsius": ""}, "gauge_celsius", "so the temperature reading is needed too"),
    ],
)
def test_what_cannot_be_is_said_at_its_box(
    pitched: Record, write: Write, staff: Person, manager: Person, readings: dict[str, str], field: str, sentence: str
) -> None:
    declare(write)
    with pytest.raises(Unfit) as refused:
        take(staff, manager, **({"gauge_dip_mm": "1000", "gauge_celsius": "20"} | readings))
    [problem] = refused.value.problems
    assert problem.field == field
    assert sentence in problem.sentence


def test_a_washback_nobody_filled_holds_nothing_that_could_be_gauged(
    plain_plant: None, staff: Person, manager: Person
) -> None:
    with pytest.raises(Unfit, match="nothing that went into it is on record"):
        take(staff, manager, gauge_dip_mm="1000", gauge_celsius="20")
    take(staff, manager, gauge_dip_mm="0")


def test_a_gravity_of_spirit_is_asked_about(opened: Write, staff: Person, manager: Person) -> None:
    opened("VA", "1000", "60.0")
    row = {"vessel": "VA", **gauge("gauge", "1000", "60.0"), "present_gravity": "0.9980"}
    with pytest.raises(Unfit, match="VA is no washback"):
        recording.save("stock_take", None, AT, [row], person=staff, second=manager)


# Two washbacks more than the plain month has: one declared and waiting, one that ferments over the month's end.
PLANT = {
    "vessels": tiny_month.PLANT["vessels"] + "B2,Back 2,washback,wash,5000\nB3,Back 3,washback,wash,5000\n",
    "calibration": tiny_month.PLANT["calibration"] + "B2,0,0\nB2,5000,5000\nB3,0,0\nB3,5000,5000\n",
}
MASHES = """\
MA0003,2027-03-26T06:00,2027-03-26T11:00,M001,500,2400,1.0600,18,B2
MA0004,2027-03-30T06:00,2027-03-30T11:00,M001,500,2400,1.0600,18,B3
"""
FERMENTATIONS = """\
FE0003,MA0003,B2,Y1,5,2027-03-26T11:00,1.0600,2027-03-29T11:00,0.9980,2400,20
FE0004,MA0004,B3,Y1,5,2027-03-30T11:00,1.0600,,,,
"""
HEAD = "at,vessel,gauge_dip_mm,gauge_celsius,gauge_hydrometer_percent"


@pytest.mark.parametrize("with_gravity", [True, False])
def test_a_month_that_ends_with_full_washbacks_loads(tmp_path: Path, with_gravity: bool) -> None:
    """B1 ferments since the 5th, B2 waits, B3 ferments: 2,390 litres of B2 are in the account, none of the others."""
    wash = [("B1", "2400", "30", "", "1.0200"), ("B2", "2390", "20", "", "0.9980"), ("B3", "2400", "25", "", "1.0400")]
    rows = [f"2027-03-31T06:00,{','.join(one if with_gravity else one[:-1])}" for one in wash]
    spirit = ["2027-03-31T06:00,V1,880,20,64.9", "2027-03-31T06:00,F1,560,20,36"]
    lines = [HEAD + (",present_gravity" if with_gravity else ""), *rows]
    lines += [f"{one}," if with_gravity else one for one in spirit]
    folder = tiny_month.write_folder(
        tmp_path,
        mashes=tiny_month.LOG["mashes"] + MASHES,
        fermentations=tiny_month.LOG["fermentations"] + FERMENTATIONS,
        stock_take="\n".join(lines) + "\n",
    )
    for name, text in PLANT.items():
        (folder / "plant" / f"{name}.csv").write_text(text, encoding="utf-8")
    call_command("load_month", str(folder), verbosity=0)
    account = month_account("2027-03")
    held = {one.account.code: one.pure_ul / 1e6 for one in account.vessels}
    assert held["vessel:B2"] == pytest.approx(2390 * LITRES_OF_ALCOHOL, abs=0.02)
    assert (held["vessel:B1"], held["vessel:B3"]) == (0.0, 0.0)
    assert account.foots
    assert prove().broken == []
    before = Movement.objects.count()
    call_command("load_month", str(folder), verbosity=0)
    assert Movement.objects.count() == before, "loaded again it adds nothing"
