"""What a movement's seal covers, written quickly, against the same rule spelled out slowly.

The rule is the one that DEVELOPERS.md and the README of an export state: one object, members sorted, no spaces, all
beyond ASCII escaped, times in UTC to the microsecond. The slow spelling makes plain data and leaves the rest to `json`.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from distillery.hashing import moment_text
from ledger.models import Account
from ledger.proof.sealed_columns import DUTY, FIGURE, FLOW, GAUGE, LEG, MOVEMENT, Row
from ledger.proof.sealing import Script

ACCOUNTS = {
    number: Account(
        pk=number, code=code, kind=kind, name=name, stage=stage, vessel_id=vessel, floor_zero=floor, bottle_pure_ul=pure
    )
    for number, code, kind, name, stage, vessel, floor, pure in (
        (1, "vessel:W1", "vessel", "Washback 1", "wash", 7, False, None),
        (2, "vessel:2021/0003", "vessel", "Cask “three”", "maturing", 8, True, None),
        (3, "stock:500 ml at 46 %", "stock", "Flaschen für\tHarrowmere", "bottled", None, True, 230_000),
        (4, "difference:gauging:W1", "difference", 'W1 "found"', "", None, False, None),
        (5, "loss:\u2028vapour", "loss", "Vapour\\", "", None, False, None),
    )
}
PEOPLE = {1: "isla", 2: "brodie", 3: "zoë"}

texts = st.text(max_size=12)
wholes = st.integers(-(2**53), 2**53)
counts = st.integers(1, 2**31)
named = st.sampled_from(sorted(ACCOUNTS))
# UTC and other zones; the database of a site keeps moments from the year 1 to 9999, and one zone may not leave them.
moments = st.datetimes(
    datetime(2, 1, 1),
    datetime(9998, 1, 1),
    timezones=st.sampled_from([UTC, timezone(timedelta(hours=1)), timezone(-timedelta(hours=9, minutes=30))]),
)


def slow_moment(at: datetime) -> str:
    """Field by field, so that no formatting of the library has a say."""
    there = at.astimezone(UTC)
    return (
        f"{there.year:04d}-{there.month:02d}-{there.day:02d}"
        f"T{there.hour:02d}:{there.minute:02d}:{there.second:02d}.{there.microsecond:06d}Z"
    )


def as_sqlite_keeps(at: datetime) -> str:
    """UTC without saying so, microseconds only where there are any."""
    return str(at.astimezone(UTC).replace(tzinfo=None))


def slow_line(movement: Row, legs: Sequence[Row], *others: Sequence[Row]) -> str:
    said = dict(zip(MOVEMENT, movement, strict=True))
    gauges, measures, figures, duties = others

    def plain(columns: Sequence[str], row: Row) -> list[Any]:
        return [_plain(column, value) for column, value in zip(columns, row, strict=True) if column != "movement_id"]

    touched = {row[at] for row in legs for at in (3, 4)} | {row[1] for row in gauges}
    touched |= {row[at] for row in measures for at in (2, 3)}
    content = {
        "number": said["id"],
        **{name: said[name] for name in ("kind", "operation", "period", "slot", "reason", "record_digest")},
        **{name: _plain(name, said[name]) for name in ("happened_at", "true_at", "written_at")},
        "person": PEOPLE[said["person_id"]],
        "second": None if said["second_id"] is None else PEOPLE[said["second_id"]],
        "record": [said["record_kind"], said["record_number"], said["moment"]],
        "judged": [said["judged_against"], said["judged_ul"], said["judged_parts"]],
        "corrects": said["corrects_id"],
        "restates": said["restates_id"],
        "accounts": sorted(
            [one.code, one.kind, one.name, one.stage, one.vessel_id, one.floor_zero, one.bottle_pure_ul]
            for one in (ACCOUNTS[pk] for pk in touched if pk is not None)
        ),
        "legs": [plain(LEG, row) for row in legs],
        "gauges": [plain(GAUGE, row) for row in gauges],
        "measures": [plain(FLOW, row) for row in measures],
        "figures": [plain(FIGURE, row) for row in figures],
        "duties": [plain(DUTY, row) for row in duties],
    }
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=True)


def _plain(column: str, value: Any) -> Any:
    if value is None:
        return None
    if column.endswith("_at"):
        return slow_moment(value)
    if column in {"account_id", "other_id", "giver_id", "taker_id"}:
        return ACCOUNTS[value].code
    return value


COLUMNS = {
    **dict.fromkeys(("happened_at", "written_at"), moments),
    "true_at": st.none() | moments,
    **dict.fromkeys(("account_id", "giver_id", "taker_id"), named),
    "other_id": st.none() | named,
    "person_id": st.sampled_from(sorted(PEOPLE)),
    "second_id": st.none() | st.sampled_from(sorted(PEOPLE)),
    **dict.fromkeys(("corrects_id", "restates_id", "judged_ul"), st.none() | wholes),
    **dict.fromkeys(("expected_millionths", "spread_millionths", "pence", "rate_pence_hundredths"), st.none() | wholes),
    **dict.fromkeys(("line", "slot"), counts),
    "value_millionths": wholes,
}
NUMBERS = ("_ul", "_g", "_millionths", "position")


def rows(columns: Sequence[str], number: int) -> st.SearchStrategy[tuple[Any, ...]]:
    drawn = []
    for column in columns:
        if column in {"id", "movement_id"}:
            drawn.append(st.just(number))
        else:
            drawn.append(COLUMNS.get(column, wholes if column.endswith(NUMBERS) else texts))
    return st.tuples(*drawn)


@st.composite
def movements(draw: st.DrawFn) -> tuple[Row, list[Row], list[Row], list[Row], list[Row], list[Row]]:
    number = draw(counts)

    def some(columns: Sequence[str], least: int = 0) -> list[Row]:
        return draw(st.lists(rows(columns, number), min_size=least, max_size=2))

    movement: Row = draw(rows(MOVEMENT, number))
    return movement, some(LEG), some(GAUGE), some(FLOW), some(FIGURE), some(DUTY)


def as_read(columns: Sequence[str], row: Row, behind: tuple[Any, ...] = ()) -> Row:
    """A row as the cursor of SQLite gives it, with what a query may put behind its columns."""
    kept = (
        as_sqlite_keeps(value) if column.endswith("_at") and value is not None else value
        for column, value in zip(columns, row, strict=True)
    )
    return (*kept, *behind)


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(movements())
def test_the_quick_line_is_the_slow_one_from_objects_and_from_the_database(drawn: tuple[Any, ...]) -> None:
    movement, legs, gauges, flows, figures, duties = drawn
    script = Script(ACCOUNTS, PEOPLE)
    slow = slow_line(*drawn)
    assert script.line(*drawn) == slow
    as_kept = (
        as_read(MOVEMENT, movement, ("0" * 64, "f" * 64)),
        [as_read(LEG, row, (17, 1, 0, 0)) for row in legs],
        [as_read(GAUGE, row) for row in gauges],
        flows,
        figures,
        duties,
    )
    assert script.line(*as_kept) == slow


@given(moments)
def test_a_moment_is_written_alike_from_an_object_and_from_either_engine(at: datetime) -> None:
    slow = slow_moment(at)
    assert moment_text(at) == slow
    assert moment_text(as_sqlite_keeps(at)) == slow
    assert moment_text(at.astimezone(UTC).replace(tzinfo=None)) == slow
    # As the proof has PostgreSQL write it.
    assert moment_text(slow) == slow
    assert moment_text(at.isoformat()) == slow


@pytest.mark.parametrize("text", ["", "soon", "2027-13-04 05:06", "04.03.27 05:06"])
def test_a_text_that_is_no_moment_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        moment_text(text)


@pytest.mark.parametrize("missing", ["account", "person"])
def test_a_line_that_names_what_is_not_there_is_not_written(missing: str) -> None:
    values = dict.fromkeys(MOVEMENT, "")
    at = "2027-03-04 05:06:07"
    movement = {**values, "id": 1, "slot": 1, "happened_at": at, "written_at": at, "person_id": 1}
    leg = (1, 1, 4097, 1, 2, "wash", "flow", at, "2027-03", 5, 6)
    people = {} if missing == "person" else PEOPLE
    accounts = {1: ACCOUNTS[1]} if missing == "account" else ACCOUNTS
    optional = {"second_id", "corrects_id", "restates_id", "true_at", "judged_ul"}
    row = [None if name in optional else movement[name] for name in MOVEMENT]
    with pytest.raises(KeyError):
        Script(accounts, people).line(row, [leg])


def test_a_text_where_a_number_belongs_cannot_say_what_two_rows_say() -> None:
    """SQLite keeps any text in a column of numbers: one row could otherwise give the seal of two."""
    at = "2027-03-04 05:06:07"
    numbers = {"id": 1, "slot": 1, "person_id": 1, "happened_at": at, "written_at": at}
    optional = {"second_id", "corrects_id", "restates_id", "true_at", "judged_ul"}
    movement = [None if name in optional else numbers.get(name, "") for name in MOVEMENT]
    first = (1, 1, "before", "before", "dip", at, 10, 1, 2, 3, 4, 5, 6, "rule", "", "")
    second = (1, 1, "after", "after", "dip", at, 20, 7, 8, 9, 10, 11, 12, "rule", "", "")
    script = Script(ACCOUNTS, PEOPLE)
    moment = moment_text(at)
    said = f'10,1,2,3,4,5,6,"rule","",""],["vessel:W1","after","after","dip","{moment}",20'
    assert f'"before","before","dip","{moment}",{said},7,8' in script.line(movement, [], [first, second])
    with pytest.raises(ValueError, match=r"."):
        script.line(movement, [], [(*first[:6], said, *second[7:])])
