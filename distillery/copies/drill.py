"""A drill: the newest copy is put back beside the books, proved, and its last seal looked for in the live books.

What came of each is one line of JSON in a file beside the copies, in both places: it is about the copies and no fact of
the books, and lies where whoever needs a copy will look. One is due a year after the last; ours, as no law says when.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Final

from django.db import connection
from django.utils import timezone

from distillery.clock.reading import site_day
from distillery.copies.beside import place_beside
from distillery.copies.keeping import newest
from distillery.copies.places import first_place, second_place
from distillery.jobs.kinds import Kind
from distillery.jobs.progress import NotDone, Progress
from distillery.management.copies import CopyRefused
from distillery.management.moving import at_the_other
from distillery.plant.due import months_after
from distillery.seals.models import BooksSeal

DRILL_CODE: Final = "copies drill"
FILE: Final = "drills.jsonl"
MONTHS_BETWEEN: Final = 12
DUE_SOON: Final = timedelta(days=30)


@dataclass(frozen=True, slots=True)
class Drill:
    """One drill: when, of which copy, whether it came back and was proved, what was said, and who asked for it."""

    at: str
    copy: str
    held: bool
    said: str
    by: str

    @property
    def moment(self) -> datetime:
        """When it was."""
        return datetime.fromisoformat(self.at)


def drills() -> list[Drill]:
    """Those that were held, newest first; lines that cannot be read are passed over."""
    return sorted(_read(first_place(connection) / FILE), key=lambda one: one.at, reverse=True)


def due_on(held: list[Drill]) -> date | None:
    """The day from which another is due; None where none has held yet, so that it is due now."""
    last = next((one for one in held if one.held), None)
    return months_after(site_day(last.moment), MONTHS_BETWEEN) if last is not None else None


def _read(file: Path) -> Iterator[Drill]:
    with suppress(OSError):
        for line in file.read_text(encoding="utf-8").splitlines():
            with suppress(ValueError, TypeError):
                yield Drill(**json.loads(line))


def _drill(progress: Progress) -> str:
    last = newest(connection)
    if last is None:
        raise NotDone("There is no copy to try yet. The server takes one each night.")
    live = BooksSeal.objects.filter(number=last.number).values_list("seal", flat=True).first()
    progress.tell("Putting the newest copy back beside the books, and proving it")
    try:
        with place_beside(connection) as url:
            done = at_the_other(url, "restore", str(last.file), SEALS_FILE="")
            if not done.returncode and live:
                progress.tell("Looking for its last seal in the live books")
                done = at_the_other(url, "verify_ledger", "--expect", live, SEALS_FILE="")
    except CopyRefused as refused:
        raise NotDone(str(refused)) from refused
    if done.returncode:
        said = (done.stderr.strip() or "it gave no reason").splitlines()[-1].removeprefix("CommandError: ")
    elif not live:
        said = f"The live books have no seal {last.number}, which is the last of the copy."
    else:
        said = f"It came back and is proved; seal {last.number}, its last, stands in the live books as it does in it."
    by = progress.asked_by.shown_name if progress.asked_by is not None else "the program"
    _note(Drill(timezone.now().isoformat(), last.file.name, not done.returncode and bool(live), said, by))
    if done.returncode or not live:
        raise NotDone(said)
    return ""


def _note(drill: Drill) -> None:
    line = json.dumps(asdict(drill), ensure_ascii=False) + "\n"
    for folder in (first_place(connection), second_place()):
        # The second place may be a disk that is not there; what is in the first is what the page shows.
        if folder is not None and folder.is_dir():
            with suppress(OSError), (folder / FILE).open("a", encoding="utf-8") as file:
                file.write(line)


DRILL: Final = Kind(DRILL_CODE, "Drill with a copy", _drill, "It was begun again with the newest copy.")
