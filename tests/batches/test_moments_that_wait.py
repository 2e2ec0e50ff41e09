"""A moment that comes only with a field, and a second person that only some records need, on an invented sheet."""

from __future__ import annotations

from typing import Any

import pytest

from batches.sheets import fields
from batches.sheets.sheet import Moment, Phase, Section, Sheet

BEGUN = Moment(name="begun", label="Beginning", when="at", phase=Phase.MOVE)
WORD = Moment(name="word", label="Word", when="heard_at", phase=Phase.MOVE, only_with=("letter", "wire"))


def sheet(**changed: Any) -> Sheet:
    declared = {
        "moments": (BEGUN, WORD),
        "sections": (
            Section(
                heading="Sent",
                items=(
                    fields.when("at", "Sent at"),
                    fields.name("letter", "Letter", required=False),
                    fields.name("wire", "Wire", required=False),
                    fields.name("leave", "Leave", required=False),
                ),
            ),
            Section(heading="Heard", moment="word", items=(fields.when("heard_at", "Heard at"),)),
        ),
        "second_where": "leave",
    }
    names = {"kind": "errand", "title": "Errand", "plural": "Errands", "operation": "errand", "table": "errands"}
    return Sheet(**names, prefix="ER", **(declared | changed))


@pytest.mark.parametrize(
    ("typed", "done"),
    [({}, True), ({"letter": "L-1"}, False), ({"wire": "W-1"}, False), ({"letter": "  "}, True)],
)
def test_it_is_to_come_only_where_one_of_its_fields_is_written(typed: dict[str, str], done: bool) -> None:
    assert sheet().is_done([BEGUN], typed) is done
    assert sheet().is_done([BEGUN, WORD], typed) is True


@pytest.mark.parametrize(("typed", "needs"), [({}, False), ({"leave": "P-1"}, True), ({"leave": " "}, False)])
def test_a_second_person_is_needed_only_with_its_field(typed: dict[str, str], needs: bool) -> None:
    assert sheet().asks_second(typed) is needs
    assert sheet(second_person=True, second_where="").asks_second(typed) is True


@pytest.mark.parametrize(
    "changed",
    [
        {"second_where": "colour"},
        {"moments": (BEGUN, Moment(name="word", label="W", when="heard_at", phase=Phase.MOVE, only_with=("colour",)))},
        {
            "moments": (
                Moment(name="begun", label="B", when="at", phase=Phase.MOVE, only_with=("letter",)),
                WORD,
            )
        },
    ],
)
def test_what_names_no_field_or_never_begins_is_no_sheet(changed: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="errand"):
        sheet(**changed)
