"""Days of a still house, written in the browser at the minute each thing happens; nothing untrue is shown meanwhile.

The days are those of a simulated month without slips, which shares no arithmetic with the program; site and figures are
invented. It takes minutes, so it is run by hand: ``pytest -m slow tests/journeys/test_week_of_a_still_house.py``, and
``STILL_HOUSE_HOURS=60`` before it for the first days alone.
"""

from __future__ import annotations

import csv
import io
import os
import re
import shutil
from collections import Counter
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from batches.steps import STEPS
from distillery.plant.models import Kind
from tests.journeys.moved_clock import PEOPLE, Clock
from tests.journeys.week import SITE_ZONE, Act, StillHouse, acts_of
from tests.running_site import Databases, serving_process
from tests.simulator import simulate

BEGINS = datetime(2027, 3, 1, 6, tzinfo=SITE_ZONE)
HOURS = float(os.environ.get("STILL_HOUSE_HOURS", "168"))
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A simulated month of a small still house in which nobody slips."""
    folder = tmp_path_factory.mktemp("week") / "month"
    simulate(11, folder, size="small", clean=True, month=f"{BEGINS:%Y-%m}")
    return folder


@pytest.fixture(scope="module")
def clock(tmp_path_factory: pytest.TempPathFactory) -> Clock:
    made = Clock(tmp_path_factory.mktemp("clock") / "ahead")
    made.move(BEGINS)
    return made


@pytest.fixture(scope="module")
def site(chromium: str, log: Path, clock: Clock, databases: Databases) -> Iterator[str]:
    """The plant and the opening stock of the month, and two people; nothing of its work."""
    database = databases.new()
    opened = log.parent / "opened"
    shutil.copytree(log / "plant", opened / "plant")
    (opened / "log").mkdir()
    for sheet in STEPS:
        file = log / "log" / f"{sheet.table}.csv"
        if file.exists():
            text = file.read_text(encoding="utf-8")
            (opened / "log" / file.name).write_text(text if sheet.sets_up else text.splitlines()[0] + "\n", "utf-8")
    list_stills(log, opened / "plant" / "vessels.csv")
    (opened / "log" / "readings.csv").write_text("record,at,quantity,value\n", encoding="utf-8")
    clock.tell(database, "migrate", "--verbosity", "0")
    clock.invite(database)
    clock.tell(database, "load_month", str(opened), "--person", "brodie", "--second", "isla")
    with serving_process(database, command=clock.command) as (_, address):
        yield address


def list_stills(log: Path, vessels: Path) -> None:
    """Adds the stills to the plant's vessels: a log names them, and a site has them before its first run."""
    found = {}
    for sheet in STEPS:
        file = log / "log" / f"{sheet.table}.csv"
        stills = [one for one in sheet.fields if one.vessel_kinds == (Kind.STILL.value,)]
        if sheet.sets_up or not file.exists() or not stills:
            continue
        with file.open(encoding="utf-8", newline="") as opened:
            for row in csv.DictReader(opened):
                for one in stills:
                    if row.get(one.name):
                        found[row[one.name]] = one.stages[0]
    with vessels.open("a", encoding="utf-8", newline="") as opened:
        csv.writer(opened, lineterminator="\n").writerows(
            (code, f"Still {code}", Kind.STILL.value, stage, "") for code, stage in sorted(found.items())
        )


@pytest.fixture
def still_house(page: Any, clock: Clock) -> StillHouse:
    page.set_viewport_size({"width": 1366, "height": 768})

    def sign_on() -> None:
        page.goto("/sign-on/")
        page.fill("input[name=username]", PEOPLE[0][0])
        page.fill("input[name=password]", PEOPLE[0][2])
        page.press("input[name=password]", "Enter")
        page.wait_for_url(lambda url: "/sign-on/" not in url)

    sign_on()
    return StillHouse(page, sign_on, clock.move, kept_for={"low_wines_receiver": "LWR"})


def test_days_written_as_they_happen(still_house: StillHouse, log: Path) -> None:
    acts = acts_of(log / "log", until=BEGINS + timedelta(hours=HOURS))
    assert len(acts) > HOURS / 3
    for act in acts:
        still_house.write(act)
        still_house.looks_true()
    # A strength that falls away at the end of a run may be taken for a slip of the point; nothing else is asked.
    others = [one for one in still_house.asked if "did you mean" not in one]
    assert not others, "\n".join(others)
    assert len(still_house.asked) <= len(acts) / 50
    page = still_house.page
    still_house.go("/books/enquiries/")
    assert page.get_by_role("link", name=re.compile(r"^EQ\d+")).count() == 0
    answer = page.request.get("/stores/?kind=malt&as=csv")
    listed = csv.DictReader(io.StringIO(answer.text()))
    in_stock = {row["Lot"]: float(row["In stock"]) for row in listed if row["Material"] == "Malt"}
    assert in_stock == malt_left(acts, still_house.numbers)


def malt_left(acts: list[Act], numbers: dict[str, str]) -> dict[str, float]:
    """What is left of each lot of malt, in kg, by what came and what the mashes took."""
    left: Counter[str] = Counter()
    for act in acts:
        if act.sheet.table == "intake" and act.begins:
            left[numbers[act.record]] += float(act.values["kilograms"])
        if "grist_kg" in act.values:
            left[numbers[act.values["malt_lot"]]] -= float(act.values["grist_kg"])
    return dict(left)
