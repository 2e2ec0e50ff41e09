"""Every step from its empty sheet to a finished record, written in the browser from empty books; no step is left out.

A step that is added without rows in `every_step` makes this fail. What each has besides its sheet is asked for in the
same sign-on: its page, its list as page and CSV, its print and its blank sheet, both read back.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from batches.sheets.sheet import Sheet
from batches.steps import STEPS
from tests.journeys.every_step import CHOSEN, write_log, write_plant
from tests.journeys.moved_clock import PEOPLE, Clock
from tests.journeys.week import SITE_ZONE, Act, Row, StillHouse, acts_of
from tests.running_site import Databases, serving_process

BEGINS = datetime(2027, 3, 1, 6, tzinfo=SITE_ZONE)
# Acts of one shift are less than this apart, so that nobody signs on anew for each.
IDLE_S = "1800"
FIGURE = re.compile(r"\d+(\.\d+)?")
pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def clock(tmp_path_factory: pytest.TempPathFactory) -> Clock:
    made = Clock(tmp_path_factory.mktemp("clock") / "ahead")
    made.move(BEGINS)
    return made


@pytest.fixture(scope="module")
def site(
    chromium: str,
    migrated_original: str,
    clock: Clock,
    databases: Databases,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[str]:
    """The plant and two people; nothing is written."""
    database = databases.copy_of(migrated_original)
    plant = write_plant(tmp_path_factory.mktemp("plain") / "plant")
    clock.invite(database)
    clock.tell(database, "load_month", str(plant), "--person", "brodie", "--second", "isla")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("IDLE_SECONDS", IDLE_S)
        with serving_process(database, command=clock.command) as (_, address):
            yield address


@pytest.fixture
def still_house(page: Any, clock: Clock) -> StillHouse:
    page.set_viewport_size({"width": 1366, "height": 768})

    def sign_on() -> None:
        page.goto("/sign-on/")
        page.fill("input[name=username]", PEOPLE[0][0])
        page.fill("input[name=password]", PEOPLE[0][2])
        page.press("input[name=password]", "Enter")
        page.wait_for_url(lambda url: "/sign-on/" not in url)

    return StillHouse(page, sign_on, clock.move, kept_for=CHOSEN, second=(PEOPLE[1][0], PEOPLE[1][2]))


@pytest.fixture
def acts(tmp_path: Path) -> list[Act]:
    return acts_of(write_log(tmp_path / "log"), until=BEGINS + timedelta(days=31), opening=True)


@pytest.mark.slow
def test_from_empty_to_finished(still_house: StillHouse, acts: list[Act]) -> None:
    moments = {(act.sheet.kind, act.moment.name) for act in acts if act.moment is not None}
    for sheet in STEPS:
        if not sheet.in_plant:
            wanted = {(sheet.kind, one.name) for one in sheet.moments if not one.optional and not one.only_with}
            assert wanted <= moments, f"no row of every_step writes {sheet.kind} to its end"
    for act in acts:
        still_house.write(act)
    # One record of each step: the first that was begun.
    for sheet, record in {act.sheet: act.record for act in reversed(acts)}.items():
        written = {name: value for act in acts if act.record == record for name, value in act.values.items()}
        look_over(still_house.page.request, sheet, still_house.numbers[record], written)


def look_over(request: Any, sheet: Sheet, number: str, written: Row) -> None:
    """What a step has besides its sheet, of one record that was written to its end."""
    every = f"/records/{sheet.kind}/"
    own = f"{every}{number}/"
    shown = answered(request, own).text()
    for address in (own, every):
        text = shown if address == own else answered(request, address).text()
        assert number in text, address
    rows = list(csv.reader(io.StringIO(answered(request, f"{every}?as=csv").text())))
    assert [number in row for row in rows].count(True) == 1, f"{sheet.kind}: {rows}"
    printed = read_back(answered(request, f"{own}record.pdf").body())
    blank = read_back(answered(request, f"{every}blank-sheet.pdf").body(), pages=1)
    assert number in printed
    assert (sheet.printed_title or sheet.title) in blank, sheet.kind
    for name, value in written.items():
        if FIGURE.fullmatch(value):
            for where, text in (("page", shown), ("print", printed)):
                assert figures(value) in figures(text), f"{sheet.kind}: {name} {value} is not on its {where}"


def answered(request: Any, address: str) -> Any:
    answer = request.get(address)
    assert answer.ok, f"{answer.status} from {address}"
    return answer


def read_back(document: bytes, *, pages: int | None = None) -> str:
    return " ".join(page.extract_text() for page in PdfReader(io.BytesIO(document)).pages[:pages])


def figures(text: str) -> str:
    """Text without what parts thousands."""
    return re.sub(r"(?<=\d),(?=\d{3})", "", text)
