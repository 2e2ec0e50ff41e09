"""The year of the demonstration: which of its months are in the books, and the loading of those that are not.

Each month is a folder and goes in whole or not at all, in one transaction, as a site loads a month at its end. One
transaction over the whole year would keep SQLite's one writer busy for minutes, and a demonstration that was broken off
would begin with nothing again; by months it is taken up after the last that was loaded. The people, the clock of the
books and the first month are one transaction, so that books which hold part of it are known by their first stock take.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from io import StringIO
from pathlib import Path
from typing import Final

from django.apps import apps
from django.core.management import call_command
from django.db import transaction

from distillery import figures
from distillery.clock.reading import offset_days
from distillery.clock.setting import days_until, set_clock
from distillery.management.demonstration import SIGNS_AS_SECOND, WRITES_THE_LOG, invite, is_demonstration
from distillery.starting.where import FIXTURES

YEAR: Final = FIXTURES / "harrowmere-year"
# The operation with which each of its months ends.
STOCK_TAKE: Final = "stock take"
# Stock of the last month is taken at six in the morning of its last day.
LAST_MORNING: Final = timedelta(hours=18)
_ENTRIES: Final = re.compile(r"^(\d+) of (\d+) entries$")


@dataclass(frozen=True, slots=True)
class HowFar:
    """How far the loading is: the month that is being loaded, its place among all, and how far that month is."""

    month: str
    place: int
    months: int
    entry: int = 0
    entries: int = 0

    @property
    def parts(self) -> tuple[int, int]:
        """Hundredths of a month done, of how many in all."""
        within = 100 * self.entry // self.entries if self.entries else 0
        return 100 * (self.place - 1) + within, 100 * self.months

    @property
    def sentence(self) -> str:
        """'August 2026, month 5 of 12: entry 40 of 212.'"""
        year, month = (int(part) for part in self.month.split("-"))
        named = figures.month(datetime(year, month, 1, tzinfo=UTC).date())
        entry = f": entry {figures.count(self.entry)} of {figures.count(self.entries)}" if self.entries else ""
        return f"{named}, month {self.place} of {self.months}{entry}."

    def as_data(self) -> dict[str, str | int]:
        """As plain data, to be told to another process."""
        return asdict(self)


Tell = Callable[[HowFar], None]


def folders() -> list[Path]:
    """The months of the year in order, each a folder of tables named by its month."""
    return sorted(path for path in YEAR.iterdir() if path.is_dir())


def months_left() -> list[Path]:
    """The months that are not in the books yet; none where the books are another demonstration than the year's."""
    movements = apps.get_model("ledger", "Movement")._default_manager.filter(operation=STOCK_TAKE)
    there = set(movements.order_by().values_list("period", flat=True).distinct())
    year = folders()
    if is_demonstration() and year[0].name not in there:
        return []
    return [folder for folder in year if folder.name not in there]


def load_months(tell: Tell) -> None:
    """Loads what is left of the year, month by month. Raises CommandError where a table is bad."""
    left, months = months_left(), len(folders())
    for place, folder in enumerate(left, start=months - len(left) + 1):
        far = HowFar(folder.name, place, months)
        tell(far)
        with transaction.atomic():
            if place == 1:
                invite()
                _set_clock()
            _load(folder, far, tell)
    if left:
        _compare_once_more()


def _compare_once_more() -> None:
    """A later month brings casks and figures, so what an earlier one was compared with has moved on: who opens one is
    to find it compared, not to wait for it.
    """
    for folder in folders():
        call_command("findings", period=folder.name, stdout=StringIO(), stderr=StringIO())


def _set_clock() -> None:
    """Sets the clock of the books to the last day of the year, unless it has been set."""
    if offset_days():
        return
    year, month = (int(part) for part in folders()[-1].name.split("-"))
    after = datetime(year + month // 12, month % 12 + 1, 1, tzinfo=UTC)
    set_clock(days_until(after - LAST_MORNING), why="the year of the demonstration")


def _load(folder: Path, far: HowFar, tell: Tell) -> None:
    call_command(
        "load_month",
        folder,
        person=WRITES_THE_LOG,
        second=SIGNS_AS_SECOND,
        stdout=StringIO(),
        stderr=_Lines(lambda line: _told(line, far, tell)),
    )


def _told(line: str, far: HowFar, tell: Tell) -> None:
    found = _ENTRIES.match(line.strip())
    if found:
        tell(HowFar(far.month, far.place, far.months, int(found[1]), int(found[2])))


class _Lines(StringIO):
    """What a command writes, handed on as it is written."""

    def __init__(self, hand_on: Callable[[str], None]) -> None:
        super().__init__()
        self._hand_on = hand_on

    def write(self, text: str, /) -> int:
        self._hand_on(text)
        return super().write(text)
