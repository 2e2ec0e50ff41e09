"""The board of washbacks: what is in each, which is charged next, which wash still is free; figures worked by hand."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from batches.models import Record
from batches.records.readings import add_readings
from batches.running.washbacks import EMPTY, WAITS, Board, WashbackNow, board
from distillery.people.models import Person
from distillery.plant.models import MICRO, CalibrationPoint, Kind, Stage, Vessel
from distillery.seals.writing import signed

pytestmark = pytest.mark.django_db
Write = Callable[..., Record]
PITCHED = datetime(2027, 3, 2, 8, tzinfo=UTC)


def at(hours: float) -> datetime:
    return PITCHED + timedelta(hours=hours)


def typed_at(hours: float) -> str:
    return at(hours).strftime("%Y-%m-%dT%H:%M:%SZ")


@signed("tests")
def second_washback() -> None:
    vessel = Vessel.objects.create(
        code="WB2", name="Washback 2", kind=Kind.WASHBACK, stage=Stage.WASH, order=90, capacity_ul=5000 * MICRO
    )
    for dip in (0, 5000):
        CalibrationPoint.objects.create(vessel=vessel, dip_um=dip * 1000, volume_ul=dip * MICRO)


@pytest.fixture
def mashed(write: Write) -> Write:
    write("intake", "M001", kind="malt", received_at="2027-02-01T06:00", kilograms="90000")
    second_washback()

    def save(number: str, washback: str, ended: float) -> Record:
        return write(
            "mash",
            number,
            started_at=typed_at(ended - 5),
            malt_lot="M001",
            grist_kg="1000",
            ended_at=typed_at(ended),
            wort_litres="4800",
            wort_gravity="1.0600",
            wort_celsius="19",
            washback=washback,
        )

    return save


def pitch(write: Write, number: str, mash: str, washback: str, hour: float, **more: str) -> Record:
    given = {"mash": mash, "washback": washback, "pitched_at": typed_at(hour), "original_gravity": "1.0600"}
    return write("fermentation", number, **{**given, **more})


def end(hour: float) -> dict[str, str]:
    return {"ended_at": typed_at(hour), "final_gravity": "0.9980", "final_dip_mm": "4800", "final_celsius": "20"}


def of(stands: Board, code: str) -> WashbackNow:
    return next(one for one in stands.washbacks if one.vessel.code == code)


def test_an_empty_site_has_nothing_to_charge(mashed: Write) -> None:
    stands = board(at(0))
    assert [one.state for one in stands.washbacks] == [EMPTY, EMPTY]
    assert stands.next_to_charge is None
    assert [one.code for one in stands.free_stills] == ["WS"]


def test_wort_then_wash_that_ferments_then_waits(mashed: Write, write: Write, staff: Person) -> None:
    mashed("MA0001", "WB", 0)
    stands = of(board(at(1)), "WB")
    assert (stands.state, stands.record_number, stands.litres) == ("Is not pitched yet", "MA0001", 4800)
    record = pitch(write, "FE0001", "MA0001", "WB", 1)
    add_readings(record, [(at(20), "gravity", "1.0200")], staff, sure=True)
    stands = of(board(at(21)), "WB")
    assert (stands.state, stands.hours, stands.gravity) == ("Fermenting", 20, 1.02)
    assert stands.waiting_since is None
    add_readings(record, [(at(48), "gravity", "0.9982"), (at(54), "gravity", "0.9980")], staff, sure=True)
    now = board(at(55))
    assert of(now, "WB").state == "Fermenting, steady"
    assert of(now, "WB").waiting_since == at(54)
    assert now.next_to_charge is of(now, "WB")
    write("fermentation", "FE0001", **end(56))
    waits = of(board(at(60)), "WB")
    assert (waits.state, waits.waiting_since, waits.waits_too_long) == (WAITS, at(54), False)
    # Litres by the book, as the plant shows them: of alcohol and mass together.
    assert waits.litres == pytest.approx(4800, rel=0.02)
    assert of(board(at(79)), "WB").waits_too_long


def test_what_waits_longest_is_charged_next(mashed: Write, write: Write) -> None:
    for place, (washback, hour) in enumerate((("WB", 0.0), ("WB2", 12.0)), start=1):
        mashed(f"MA000{place}", washback, hour)
        pitch(write, f"FE000{place}", f"MA000{place}", washback, hour, **end(hour + 54))
    stands = board(at(70))
    assert stands.next_to_charge is of(stands, "WB")


def test_the_page_says_what_is_estimated_and_how_to_keep_safe(
    mashed: Write, write: Write, staff: Person, browser_of: Callable[[Person], Any]
) -> None:
    mashed("MA0001", "WB", 0)
    pitch(write, "FE0001", "MA0001", "WB", 1)
    here = browser_of(staff)
    page = here.get("/washbacks/").content.decode()
    for said in ("Fermenting", "FE0001", "is an estimate", "Carbon dioxide", "risk assessment, local codes"):
        assert said in page
    assert "/washbacks/" in here.get("/").content.decode()
    assert "/washbacks/" in here.get("/plant/").content.decode()
    text = b"".join(here.get("/washbacks/?as=csv")).decode()
    assert "FE0001" in text
