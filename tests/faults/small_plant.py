"""An invented plant of twenty tanks and one product in bottles, and what the books must say of it after any number of
transfers and removals. Each tank holds four litres a millimetre; all that is in them is at 60.0 % and 20 °C.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

TANKS = tuple(f"T{number:02d}" for number in range(1, 21))
DEEPEST_MM = 3000
LITRES_PER_MM = 4
FIRST_DIP_MM = 1000
PERCENT = "60.0"
BOTTLES = 60
CENTILITRES = "70"
LABEL = "40.0"
STOCK = {"product": "Harrowmere plain", "bottle_centilitres": CENTILITRES, "label_percent": LABEL}
BOTTLE_PURE_UL = 280_000
USERNAME = "rowan"
PASSWORD = "of-tests-only"
MILLIMETRE_PURE_UL = 2_400_000
BEGIN = datetime(2027, 3, 5)
BOOKS_STAND_AT = datetime(2027, 5, 15, tzinfo=UTC)


def build() -> None:
    """Tanks gauged into the books, bottles in bond, and one person who may write."""
    from batches.records import recording
    from distillery.clock.setting import days_until, set_clock
    from distillery.people.roles import STAFF
    from distillery.plant.models import MICRO, CalibrationPoint, Kind, Stage, Vessel
    from distillery.seals.writing import written_by
    from tests.people import somebody

    # What is written in them happened in March 2027, which lies behind this clock however long the clients write.
    set_clock(days_until(BOOKS_STAND_AT), why="tests write of 2027")
    person = somebody(USERNAME, STAFF, password=PASSWORD)
    for code in TANKS:
        with written_by(person):
            vessel = Vessel.objects.create(
                code=code, name=code, kind=Kind.VAT, stage=Stage.NEW_SPIRIT, capacity_ul=12_000 * MICRO
            )
            for dip in (0, DEEPEST_MM):
                CalibrationPoint.objects.create(vessel=vessel, dip_um=dip * 1000, volume_ul=dip * LITRES_PER_MM * MICRO)
        recording.save(
            "opening_stock",
            None,
            {"vessel": code, "at": "2027-03-01 06:00", **gauge("gauge", FIRST_DIP_MM)},
            person=person,
        )
    recording.save(
        "opening_bottled_stock", None, {"at": "2027-03-01 06:00", **STOCK, "bottles": str(BOTTLES)}, person=person
    )


def gauge(prefix: str, dip_mm: int) -> dict[str, str]:
    readings = {f"{prefix}_dip_mm": str(dip_mm), f"{prefix}_celsius": "20.0"}
    return readings | ({f"{prefix}_hydrometer_percent": PERCENT} if dip_mm else {})


def transfer(giver: str, taker: str, dips: dict[str, int], moved_mm: int, minute: int) -> dict[str, str]:
    """The sheet of a transfer of so many millimetres between two tanks that hold what `dips` says."""
    return {
        "at": f"{BEGIN + timedelta(minutes=minute):%Y-%m-%d %H:%M}",
        "from_vessel": giver,
        "to_vessel": taker,
        **gauge("from_before", dips[giver]),
        **gauge("to_before", dips[taker]),
        **gauge("from_after", dips[giver] - moved_mm),
        **gauge("to_after", dips[taker] + moved_mm),
    }


def removal(bottles: int, document: str) -> dict[str, str]:
    """The sheet of a removal of bottles."""
    return {"at": "2027-03-05 09:00", **STOCK, "bottles": str(bottles), "kind": "under bond", "document": document}
