"""An entry of the trail means the same whichever engine wrote it."""

from __future__ import annotations

import pytest

from distillery.trail.meaning import meaning, same_meaning

SQLITE = '{"id":7,"username":"isla","is_active":1,"date_joined":"2027-03-04 06:00:00.250000","last_login":null}'
POSTGRESQL = (
    '{"id": 7, "is_active": true, "username": "isla", "last_login": null, '
    '"date_joined": "2027-03-04T06:00:00.25+00:00"}'
)


def test_both_engines_say_the_same_of_one_row() -> None:
    assert same_meaning("people_person", SQLITE, POSTGRESQL)
    assert meaning("people_person", SQLITE)["date_joined"] == "2027-03-04T06:00:00.250000+00:00"


@pytest.mark.parametrize(
    ("then", "now"),
    [
        ("isla", "Isla"),
        ("true", "false"),
        ("null", '"2027-03-04T06:00:00+00:00"'),
        (".25", ".250001"),
        ("+00:00", "+01:00"),
        ('"id": 7', '"id": 8'),
        ('"id": 7, ', ""),
    ],
)
def test_any_other_value_is_another_meaning(then: str, now: str) -> None:
    assert then in POSTGRESQL
    assert not same_meaning("people_person", SQLITE, POSTGRESQL.replace(then, now))


def test_what_is_no_moment_and_no_answer_stays_what_it_is() -> None:
    odd = SQLITE.replace('"is_active":1', '"is_active":2').replace("2027-03-04 06:00:00.250000", "yesterday")
    assert meaning("people_person", odd)["is_active"] == 2
    assert meaning("people_person", odd)["date_joined"] == "yesterday"


def test_nothing_said_is_nothing_meant() -> None:
    assert meaning("people_person", "") == {}
    assert not same_meaning("people_person", "", SQLITE)
