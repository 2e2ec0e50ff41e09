"""What is done in the warehouses: opened and closed, walked through, casks moved, a little drawn of a few casks."""

from datetime import datetime, timedelta

import numpy as np

from tests.simulator.casks import MaturingCask
from tests.simulator.month import Month, Row
from tests.simulator.year.calendar import START, hour_of, months
from tests.simulator.year.house import WAREHOUSES

from .casks_emptied import kept_back
from .whisky import sample

COLUMNS = {
    "warehouse_openings": [
        *("opening", "warehouse", "opened_at", "opened_by", "opened_key", "seals_found", "why"),
        *("closed_at", "closed_by", "closed_key", "seals_put_on"),
    ],
    "warehouse_rounds": [
        *("round", "at", "warehouse", "walked_by", "air_celsius", "humidity_percent", "remark"),
        *("cask", "seen", "lost_litres", "done"),
    ],
    "cask_moves": ["move", "at", "moved_by", "why", "cask", "to_warehouse", "to_row", "to_tier"],
}
NOTE = "%Y-%m-%dT%H:%M"
WALKERS = ("M. Sandry", "T. Orrell")
DAMP_IN, WEEPING_IN = "2026-11", "2027-02"
MOVED_IN = ("2026-06", "2026-10", "2027-02")
MOVED_AT_ONCE = 3
SAMPLED_IN = ("2026-05", "2026-09", "2027-01")


def write(year: Month, rng: np.random.Generator) -> None:
    """One round a month, of each warehouse in turn, opened for it and closed again."""
    there = _lying(year)
    for place, month in enumerate(months()):
        warehouse = WAREHOUSES[place % len(WAREHOUSES)]
        day = datetime.strptime(f"{month}-{int(rng.integers(9, 15)):02d}T13", "%Y-%m-%dT%H")
        at = day + timedelta(minutes=int(rng.integers(50)))
        who = WALKERS[place % len(WALKERS)]
        _open(year, warehouse, at, who, rng)
        _walk(year, rng, warehouse, at + timedelta(minutes=10), who, _seen(year, month, there, warehouse))
        if month in MOVED_IN:
            _move(year, there, warehouse, at + timedelta(minutes=50), who)
        if month in SAMPLED_IN:
            _draw(year, _of(there, warehouse)[3], at + timedelta(minutes=70))


def _lying(year: Month) -> list[MaturingCask]:
    """The casks that lie where they are all the year."""
    emptied = {one.number for one in kept_back(year.plant.maturing)}
    return [one for one in year.plant.maturing if one.number not in emptied]


def _of(there: list[MaturingCask], warehouse: str) -> list[MaturingCask]:
    return [one for one in there if one.warehouse == warehouse]


def _open(year: Month, warehouse: str, at: datetime, who: str, rng: np.random.Generator) -> None:
    record, n = year.number("WO")
    year.rows["warehouse_openings"].append(
        {
            "opening": record,
            "warehouse": warehouse,
            "opened_at": at.strftime(NOTE),
            "opened_by": who,
            "opened_key": f"{warehouse}-1",
            "seals_found": f"{410 + n}, whole",
            "why": "round",
            "closed_at": (at + timedelta(minutes=int(rng.integers(100, 150)))).strftime(NOTE),
            "closed_by": who,
            "closed_key": f"{warehouse}-1",
            "seals_put_on": str(411 + n),
        }
    )


def _seen(year: Month, month: str, there: list[MaturingCask], warehouse: str) -> Row:
    cask = _of(there, warehouse)[1].number
    if month == DAMP_IN:
        return {"cask": cask, "seen": "damp at the stave", "lost_litres": 0.5, "done": "hoop driven, looked at weekly"}
    if month == WEEPING_IN:
        return {"cask": cask, "seen": "weeping", "lost_litres": 1, "done": "stave caulked, to be seen again"}
    return {}


def _walk(year: Month, rng: np.random.Generator, warehouse: str, at: datetime, who: str, seen: Row) -> None:
    record, _ = year.number("RW")
    warm = np.cos(2.0 * np.pi * (hour_of(at) - hour_of(datetime(2026, 7, 25))) / (24.0 * 365.25))
    year.rows["warehouse_rounds"].append(
        {
            "round": record,
            "at": at.strftime(NOTE),
            "warehouse": warehouse,
            "walked_by": who,
            "air_celsius": round(float(10.5 + 5.0 * warm + rng.normal(0.0, 0.5)), 1),
            "humidity_percent": int(rng.integers(74, 86)),
            **seen,
        }
    )


def _move(year: Month, there: list[MaturingCask], warehouse: str, at: datetime, who: str) -> None:
    """Within the warehouse, to where there is room by the wall."""
    record, n = year.number("MV")
    for place, cask in enumerate(_of(there, warehouse)[4 : 4 + MOVED_AT_ONCE], start=1):
        year.rows["cask_moves"].append(
            {
                "move": record,
                "at": at.strftime(NOTE),
                "moved_by": who,
                "why": "room for new casks",
                "cask": cask.number,
                "to_warehouse": warehouse,
                "to_row": str(10 + n),
                "to_tier": str(place),
            }
        )


def _draw(year: Month, cask: MaturingCask, at: datetime) -> None:
    record, _ = year.number("SA")
    row = sample(record, (at - START) / timedelta(hours=1), cask.number, 100, "nosing", "M. Sandry")
    row |= {"ended_at": (at + timedelta(hours=20)).strftime(NOTE), "became": "used up in tests"}
    year.rows["samples"].append(row)
