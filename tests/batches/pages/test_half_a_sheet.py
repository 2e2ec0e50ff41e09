"""A sheet that is half written comes to what it can and fails at nothing, whichever box was left last.

The figures are those of `tests.journeys.every_step`, at the books of the day before them: nothing of them is written.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest
from django.test import Client

from batches.loading.load_folder import load_folder
from distillery.people.models import Person
from tests.journeys.every_step import write_log, write_plant
from tests.journeys.week import SITE_ZONE, acts_of

pytestmark = pytest.mark.django_db


def test_each_box_after_the_other_can_be_worked_out(
    tmp_path: Path, staff: Person, browser_of: Callable[[Person], Client]
) -> None:
    load_folder(write_plant(tmp_path / "plant"))
    here, seen, asked = browser_of(staff), set(), 0
    last = datetime(2027, 4, 1, tzinfo=SITE_ZONE)
    for act in acts_of(write_log(tmp_path / "log"), until=last, opening=True):
        if act.moment is None or not act.begins or act.sheet.kind in seen or not act.sheet.results:
            continue
        seen.add(act.sheet.kind)
        lines = {f"line-0-{name}": value for row in act.rows[:1] for name, value in row.items()}
        typed = {act.moment.when: f"{act.at:%Y-%m-%d %H:%M}", "lines": "1"}
        for name, value in (act.values | lines).items():
            typed[name] = value
            answer = here.post(f"/records/{act.sheet.kind}/worked-out/", typed)
            assert answer.status_code == 200, f"{act.sheet.kind} as {name} is left"
            asked += 1
    assert asked > 100
