"""A stretch of a still house's log as acts in order of time, and a hand that writes them in the browser as they happen.

The acts are those of a simulated month without slips (`tests.simulator`), which shares no arithmetic with the program.
Each is written at its own minute by the clock of the server (`tests.clock_moved`), as somebody on shift would: a charge
on a new sheet, a reading and a cut on the running page, the end on what is left of the sheet.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import Enum
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from batches.sheets.declared import Event
from batches.sheets.sheet import Moment, Sheet
from batches.steps import STEPS

# A machine that runs other tests beside it answers late.
LONGEST_ANSWER_MS = 30_000
# Of the first box at a place, asked once: whether it is seen, and what it offers where it is a list.
SEEN = """where => {
  const one = document.querySelector(where);
  return one && { shown: one.checkVisibility(), offered: one.options ? [...one.options].map(two => two.value) : null };
}"""
SITE_ZONE = ZoneInfo("Europe/London")
Row = dict[str, str]


class What(Enum):
    """What sort of act it is; of those of one minute a reading comes first and a new sheet last."""

    READING = 0
    EVENT = 1
    MOMENT = 2


@dataclass
class Act:
    """Something to be written at a minute. `record` is its number in the simulated log."""

    at: datetime
    what: What
    sheet: Sheet
    record: str
    moment: Moment | None = None
    event: Event | None = None
    values: Row = field(default_factory=dict)
    rows: list[Row] = field(default_factory=list)

    @property
    def begins(self) -> bool:
        """True where it makes a new record."""
        return self.moment is self.sheet.moments[0]

    @property
    def ends(self) -> bool:
        """True where nothing of the record is still to come."""
        return self.moment is self.sheet.moments[-1]

    @property
    def place(self) -> tuple[int, int, int]:
        """Where it stands among the acts of its minute."""
        return self.what.value, int(self.moment.phase) if self.moment else 0, STEPS.index(self.sheet)


def parsed(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=SITE_ZONE)


def acts_of(log: Path, *, until: datetime, opening: bool = False) -> list[Act]:
    """Everything in a folder's log up to a moment, in order; what opened the books only where that is asked for."""
    found: list[Act] = []
    numbers: dict[str, Sheet] = {}
    for sheet in STEPS:
        file = log / f"{sheet.table}.csv"
        if (sheet.sets_up and not opening) or not file.exists():
            continue
        for number, rows in _records(sheet, file):
            numbers[number] = sheet
            found += _acts_of_record(sheet, number, rows)
    for reading in _table(log / "readings.csv"):
        sheet = numbers[reading["record"]]
        at = parsed(reading["at"])
        last = next((one for one in found if one.what == What.READING and one.at == at), None)
        if last is not None and last.record == reading["record"]:
            last.values[reading["quantity"]] = reading["value"]
        else:
            values = {reading["quantity"]: reading["value"]}
            found.append(Act(at, What.READING, sheet, reading["record"], values=values))
    begun = {one.record: one.at for one in found if one.moment is not None and one.begins}

    def place(act: Act) -> tuple[datetime, bool, tuple[int, int, int]]:
        # What is read at the minute at which its record begins can only be written once that is there.
        return act.at, act.what == What.READING and begun[act.record] == act.at, act.place

    return sorted((one for one in found if one.at <= until and begun[one.record] <= one.at), key=place)


def _table(file: Path) -> list[Row]:
    with file.open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


def _records(sheet: Sheet, file: Path) -> Iterator[tuple[str, list[Row]]]:
    keys = (sheet.number_column,) if sheet.number_column else sheet.identity
    together: dict[str, list[Row]] = {}
    for row in _table(file):
        together.setdefault(" ".join(row[key] for key in keys), []).append(row)
    for key, rows in together.items():
        # What has no number of its own is known by its kind too: a vessel's opening stock is not the vessel.
        yield (key if sheet.number_column else f"{sheet.kind} {key}"), rows


def _acts_of_record(sheet: Sheet, number: str, rows: list[Row]) -> Iterator[Act]:
    head = rows[0]
    by_event: set[str] = set()
    for event in sheet.running.events if sheet.running else ():
        if event.when and head.get(event.when):
            values = {name: head[name] for name in event.figures if head.get(name)}
            by_event |= {event.when, *event.figures}
            yield Act(parsed(head[event.when]), What.EVENT, sheet, number, event=event, values=values)
    for moment in sheet.moments:
        if not head.get(moment.when):
            continue
        written = {
            one.name: head[one.name]
            for one in sheet.fields_of(moment)
            if head.get(one.name) and one.name not in by_event and one.name != moment.when
        }
        lines = [
            {one.name: row[one.name] for one in sheet.row_fields if row.get(one.name)}
            for row in (rows if sheet.rows_belong_to(moment) else ())
        ]
        yield Act(parsed(head[moment.when]), What.MOMENT, sheet, number, moment=moment, values=written, rows=lines)


@dataclass
class StillHouse:
    """Writes acts at a browser's window, and knows what should stand on This shift after each.

    `move` sets the server's clock. `numbers` are the program's numbers by those of the log, `on` the records that are
    on with the word of their state, `asked` what was asked before something was saved, with the act it was asked of,
    `not_asked` the boxes that were not there to be filled. `kept_for` are vessels that a log leaves out, by their
    boxes. `second` is who countersigns in place what waits for a second person, with their password.
    """

    page: Any
    sign_on: Callable[[], Any]
    move: Callable[[datetime], None]
    kept_for: dict[str, str] = field(default_factory=dict)
    numbers: dict[str, str] = field(default_factory=dict)
    on: dict[str, str] = field(default_factory=dict)
    last_read: dict[str, tuple[datetime, str]] = field(default_factory=dict)
    asked: list[str] = field(default_factory=list)
    not_asked: list[str] = field(default_factory=list)
    second: tuple[str, str] = ("", "")

    def write(self, act: Act) -> None:
        """Writes one act at its minute."""
        self.move(act.at + timedelta(seconds=20))
        if act.what == What.MOMENT:
            self._moment(act)
        elif act.what == What.EVENT:
            self._event(act)
        else:
            self._reading(act)

    def looks_true(self) -> None:
        """This shift shows the records that are on and no other, each with what was read of it last."""
        self.go("/")
        lines = self.page.locator(".run-line")
        shown = {line.locator("h2 a").inner_text(): line.inner_text() for line in lines.all()}
        assert set(shown) == set(self.on), f"on are {sorted(self.on)}, shown are {sorted(shown)}"
        for number, (_, value) in self.last_read.items():
            if number in shown:
                assert value in shown[number], f"{number} was read {value} last; it says {shown[number]}"

    def go(self, address: str) -> None:
        """Opens an address, signing on again where the PC has locked meanwhile."""
        self.page.goto(address)
        if "/sign-on/" in self.page.url:
            self.page.context.clear_cookies()
            self.sign_on()
            self.page.goto(address)

    def _moment(self, act: Act) -> None:
        assert act.moment is not None
        kind = act.sheet.kind
        if act.begins:
            self.go(f"/records/{kind}/new/")
        else:
            self.go(f"/records/{kind}/{self.numbers[act.record]}/complete/")
        self._fill(act)
        self.page.keyboard.press("F8")
        number = self._saved(act, re.compile(rf"/records/{kind}/([^/]+)/(running/)?$"))
        if act.begins:
            self.numbers[act.record] = number
        if act.sheet.second_person and self.second[0]:
            self._countersign()
        if act.ends:
            self.on.pop(number, None)
        elif act.sheet.running is not None:
            self.on[number] = act.sheet.running.state

    def _fill(self, act: Act) -> None:
        assert act.moment is not None
        told = {
            one.name: self.kept_for[one.name] for one in act.sheet.fields_of(act.moment) if one.name in self.kept_for
        }
        for name, value in (told | act.values).items():
            self._box(name, self.numbers.get(value, value))
        for place, row in enumerate(act.rows):
            for name, value in row.items():
                self._box(f"line-{place}-{name}", self.numbers.get(value, value))

    def _box(self, name: str, value: str) -> None:
        where = f"[name='{name}']:not([type=hidden])"
        box = self.page.evaluate(SEEN, where)
        if box is None and name.startswith("line-"):
            self.page.get_by_role("button", name="More lines").click()
            self.page.locator(where).first.wait_for()
            box = self.page.evaluate(SEEN, where)
        if box is None or not box["shown"]:
            # A gauge that is another one too is asked once.
            self.not_asked.append(name)
        elif box["offered"] is None:
            self.page.locator(where).first.fill(value)
        else:
            assert value in box["offered"], f"{name} is {value}; offered are {box['offered']}"
            self.page.locator(where).first.select_option(value)

    def _countersign(self) -> None:
        for box, value in zip(("second_name", "second_password"), self.second, strict=True):
            self.page.fill(f"[name={box}]", value)
        with self.page.expect_navigation():
            self.page.get_by_role("button", name="Countersign here").click()
        assert not self.page.locator(".second-person").count(), self.page.locator("main").inner_text()

    def _event(self, act: Act) -> None:
        assert act.event is not None
        number = self.numbers[act.record]
        self.go(f"/records/{act.sheet.kind}/{number}/running/?event={act.event.name}")
        for name, value in act.values.items():
            self._box(name, value)
        self.page.keyboard.press("F8")
        self._saved(act, re.compile(r"/running/$"))
        if act.event.state:
            self.on[number] = act.event.state

    def _reading(self, act: Act) -> None:
        number = self.numbers[act.record]
        self.go(f"/records/{act.sheet.kind}/{number}/{'running/' if number in self.on else 'readings/'}")
        for name, value in act.values.items():
            self._box(name, value)
        self.page.keyboard.press("F8")
        self._saved(act, re.compile(rf"/records/{act.sheet.kind}/[^/]+/(running/)?$"))
        self.last_read[number] = (act.at, next(iter(act.values.values())))

    def _saved(self, act: Act, address: re.Pattern[str]) -> str:
        """Waits until it is saved, answering what is asked with what was typed; gives the record's number."""
        from playwright.sync_api import expect

        done = self.page.locator(".messages li, .question, .error-summary")
        done.first.wait_for()
        while (question := self.page.locator(".question")).count():
            sentence = question.first.inner_text().splitlines()[0]
            self.asked.append(f"{act.record}: {sentence}")
            question.first.get_by_role("button").first.click()
            expect(self.page.locator(".question").filter(has_text=sentence)).to_have_count(0, timeout=LONGEST_ANSWER_MS)
            done.first.wait_for()
        errors = self.page.locator(".error-summary")
        assert not errors.count(), f"{act.record} at {act.at}: {errors.first.inner_text()}"
        found = address.search(self.page.url.partition("?")[0])
        assert found, f"{act.record}: {self.page.url} is not the page of what was saved"
        return found.group(1) if found.groups() and found.group(1) else ""
