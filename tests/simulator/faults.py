"""What is wrong in a month: slips of the pen, a movement nobody wrote down, leaks.

A leak is part of what truly happens, so it is settled before the month is simulated. A slip changes one written
reading afterwards and nothing else; it is made only where it shifts the alcohol of its record by more than four
standard errors of all the gauges of that record (of the one cask, in a filling), and never to a figure that could
not be: a dip outside the table, a strength that no liquid has.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from .habits import Habits
from .instruments import STANDARD_ERRORS
from .month import Mark, Month, Row

SLIPS = ("dip", "hydrometer", "celsius", "gravity", "bottles", "weight")
LEAKS = ("spirit leak", "wash leak", "cask leak")
KINDS = (*SLIPS, "missing transfer", *LEAKS)

_CHANCES = {
    "dip": 6,
    "hydrometer": 4,
    "celsius": 2,
    "gravity": 3,
    "bottles": 1,
    "weight": 3,
    "missing transfer": 3,
    "spirit leak": 3,
    "wash leak": 2,
    "cask leak": 2,
}
_LEAST_LPA = 1.0
_LEAST_SIGMAS = 4.0
_WORDS = {1: "one", 2: "two", 3: "three", 5: "five"}


@dataclass(frozen=True)
class Fault:
    """Something to go wrong. What is left open is drawn: the record, the column, the size, the first run that leaks."""

    kind: str
    record: str | None = None
    field: str | None = None
    add: float | None = None
    share: float | None = None
    from_n: int | None = None

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise ValueError(f"no such fault as {self.kind!r}; there are {', '.join(KINDS)}")


def draw_faults(rng: np.random.Generator, habits: Habits) -> list[Fault]:
    """One to five faults, no kind of leak twice, none that this distillery cannot have."""
    kinds = [kind for kind in KINDS if habits.products or kind != "bottles"]
    if not habits.regauges:
        kinds.remove("cask leak")
    chances = np.array([_CHANCES[kind] for kind in kinds], dtype=float)
    drawn = rng.choice(len(kinds), size=int(rng.integers(1, 6)), p=chances / chances.sum())
    faults: list[Fault] = []
    for i in drawn:
        if kinds[i] not in LEAKS or all(fault.kind != kinds[i] for fault in faults):
            faults.append(Fault(kinds[i]))
    return faults


# --- leaks


def settle_leaks(rng: np.random.Generator, habits: Habits, faults: list[Fault]) -> tuple[Habits, float]:
    """The habits with their leaks, and the share that a leaking cask has lost (0 where none leaks)."""
    cask_share = 0.0
    for fault in faults:
        if fault.kind == "cask leak":
            cask_share = fault.share or round(float(rng.uniform(0.06, 0.2)), 3)
        elif fault.kind in LEAKS:
            still = fault.kind.split()[0]
            usual = rng.uniform(0.006, 0.015) if still == "spirit" else rng.uniform(0.007, 0.011)
            share = fault.share or round(float(usual), 4)
            part = rng.uniform(0.25, 0.65)
            habits = habits.leaking(still, share, fault.from_n or max(2, int(part * habits.runs_expected)))
    return habits, cask_share


def leaks_that_showed(month: Month) -> list[Row]:
    """The leaks as the truth lists them; a leak due to begin after the last run never happened."""
    habits, planted = month.plant.habits, []
    if month.leaking_cask and month.leaking_cask[0]:
        planted.append({"cask_leak": month.leaking_cask[0], "share": month.leaking_cask[1]})
    for still, table in (("wash", "wash_runs"), ("spirit", "spirit_runs")):
        share = habits.wash_leak_share if still == "wash" else habits.spirit_leak_share
        first = habits.wash_leak_from if still == "wash" else habits.spirit_leak_from
        if share and len(month.rows[table]) >= first:
            planted.append({"leak": still, "from_n": first, "share": share})
    return planted


# --- slips of the pen


def plant_slips(rng: np.random.Generator, month: Month, faults: list[Fault]) -> list[Row]:
    """Falsify the written log as asked and say what was done. ValueError where a fault cannot be as asked."""
    planted: list[Row] = []
    spoilt: set[str] = set()
    for fault in faults:
        if fault.kind == "missing transfer":
            entry = _forget_transfer(rng, month, fault, spoilt)
        elif fault.kind in SLIPS:
            entry = _slip(rng, month, fault, spoilt)
        else:
            continue
        if entry is None and (fault.record or fault.field):
            raise ValueError(f"{fault} cannot be planted in this month")
        if entry is not None:
            planted.append(entry)
    _number_again(month, planted)
    return planted


def _slip(rng: np.random.Generator, month: Month, fault: Fault, spoilt: set[str]) -> Row | None:
    # Kinds of work first, so that hundreds of casks do not draw every slip to themselves.
    turn = {operation: rng.random() for operation in dict.fromkeys(mark.operation for mark in month.marks)}
    places = [
        (turn[mark.operation], rng.random(), mark, field)
        for mark in month.marks
        for field, kind in mark.fields.items()
        if kind == fault.kind
        and field not in mark.only_for_error
        and mark.record not in spoilt
        and fault.record in (None, mark.record)
        and fault.field in (None, field)
    ]
    for _, _, mark, field in sorted(places, key=lambda place: place[:2]):
        was = mark.rows[0][field]
        if fault.add is not None:
            choices = [(_rounded(was + fault.add, fault.kind), _why(fault.kind, field, fault.add))]
        else:
            choices = list(_choices(fault.kind, field, was, month))
        for k in rng.permutation(len(choices)):
            written, why = choices[int(k)]
            size = _size(month, mark, field, written, exact=fault.add is not None)
            if size is None:
                continue
            for row in mark.rows:
                row[field] = written
            spoilt.add(mark.record)
            entry: Row = {
                "operation": mark.operation,
                "n": mark.n,
                "field": field,
                "add": _rounded(written - was, fault.kind),
                "why": why,
                "record": mark.record,
                "was": was,
                "written": written,
                "lpa": round(size[0], 3),
                "sigma_lpa": round(size[1], 3),
            }
            return entry | ({"cask": mark.cask} if mark.cask else {})
    return None


def _size(month: Month, mark: Mark, field: str, written: float, *, exact: bool) -> tuple[float, float] | None:
    """By how many LPA the slip shifts its record, and the standard error of the record's readings; None where it
    is impossible or too small to matter."""
    row = mark.rows[0]
    if written < 0 or (mark.fields[field] == "hydrometer" and written > 100):
        return None
    try:
        shift = mark.measure(row | {field: written}) - mark.measure(row)
    except ValueError:
        return None
    sigma = record_error(month, mark)
    if not exact and abs(shift) < max(_LEAST_LPA, _LEAST_SIGMAS * sigma):
        return None
    return shift, sigma


def record_error(month: Month, mark: Mark) -> float:
    """Standard error, LPA, of everything gauged for the record of a mark; of one cask alone where it is a cask."""
    if mark.cask or mark.operation == "bottling":
        return measure_error(mark)
    together = (other for other in month.marks if other.record == mark.record and not other.cask)
    return float(sum(measure_error(other) ** 2 for other in together) ** 0.5)


def measure_error(mark: Mark) -> float:
    """Standard error, LPA, of what the readings of a mark stand for, each reading erring on its own."""
    row, squares = mark.rows[0], 0.0
    for field, kind in mark.fields.items():
        error = STANDARD_ERRORS[kind]
        if not error:
            continue
        try:
            squares += (mark.measure(row | {field: row[field] + error}) - mark.measure(row)) ** 2
        except ValueError:
            squares += (mark.measure(row | {field: row[field] - error}) - mark.measure(row)) ** 2
    return float(squares**0.5)


def _rounded(value: float, kind: str) -> float:
    if kind in ("dip", "bottles"):
        return round(value)
    return round(value, 4 if kind == "gravity" else 1)


def _choices(kind: str, field: str, was: Any, month: Month) -> Iterator[tuple[float, str]]:
    habits = month.plant.habits
    steps: tuple[float, ...] = {
        "dip": (10, 50, 100, 200, 500),
        "hydrometer": (1, 2, 3, 5),
        "celsius": (10,),
        "gravity": (0.002, 0.005, 0.010),
        "bottles": (),
        "weight": (1, 10, 20, 100),
    }[kind]
    for step in steps:
        for add in (-step, step):
            yield _rounded(was + add, kind), _why(kind, field, add)
    if kind == "bottles":
        for count, word in ((habits.bottles_per_case, "case"), (habits.bottles_per_layer, "layer")):
            yield was - count, f"a {word} of {count} bottles not counted"
    if kind == "dip":
        yield was * 10, "a nought too many on the dip"
        digits = str(was)
        for i in range(len(digits) - 1):
            swapped = digits[:i] + digits[i + 1] + digits[i] + digits[i + 2 :]
            if swapped[0] != "0" and swapped != digits:
                yield int(swapped), "two digits of the dip swapped"


def _why(kind: str, field: str, add: float) -> str:
    way = "short" if add < 0 else "long"
    size = abs(add)
    if kind == "dip":
        return f"dip written {size:g} mm {way}"
    if kind == "hydrometer":
        return f"hydrometer misread by {_WORDS.get(int(size), f'{size:g}')}"
    if kind == "celsius":
        return f"temperature written {size:g} degrees {'low' if add < 0 else 'high'}"
    if kind == "gravity":
        return f"{field.replace('_', ' ')} written {size:.3f} {'low' if add < 0 else 'high'}"
    if kind == "weight":
        return f"{field.split('_')[0]} weight written {size:g} kg {'light' if add < 0 else 'heavy'}"
    return f"{size:g} bottles {'too few' if add < 0 else 'too many'} counted"


# --- a transfer nobody wrote down


def _forget_transfer(rng: np.random.Generator, month: Month, fault: Fault, spoilt: set[str]) -> Row | None:
    rows = month.rows["transfers"]
    able = [
        i for i, row in enumerate(rows) if row["transfer"] not in spoilt and fault.record in (None, row["transfer"])
    ]
    if not able:
        return None
    row = rows.pop(able[int(rng.integers(len(able)))])
    month.marks = [mark for mark in month.marks if mark.record != row["transfer"]]
    truth = next(entry for entry in month.operations if entry["record"] == row["transfer"])
    truth["record"] = None
    moved = round(truth["moved"], 4)
    return {
        "operation": "transfer",
        "n": truth["n"],
        "field": None,
        "add": -moved,
        "why": "transfer not written down",
        "record": None,
        "was": moved,
        "written": None,
        "lpa": -moved,
        "at": row["at"],
        "from_vessel": row["from_vessel"],
        "to_vessel": row["to_vessel"],
    }


def _number_again(month: Month, planted: list[Row]) -> None:
    """Transfers are numbered as they are written down: one that was not leaves no gap."""
    renamed = {row["transfer"]: f"TR{i:04d}" for i, row in enumerate(month.rows["transfers"], start=1)}
    for row in month.rows["transfers"]:
        row["transfer"] = renamed[row["transfer"]]
    for entry in [*month.operations, *planted]:
        if entry.get("operation") == "transfer" and entry["record"]:
            entry["record"] = renamed[entry["record"]]
    for mark in month.marks:
        if mark.operation == "transfer":
            mark.record = renamed[mark.record]
