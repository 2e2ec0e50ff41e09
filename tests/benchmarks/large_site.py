"""Makes the site of a busy distillery after years: records, casks, corrections and closed months, for benchmarks.

Run from the root: `python -m tests.benchmarks.large_site FOLDER [--months 60] [--casks 20000]`. It becomes
FOLDER/site.sqlite3, or the empty PostgreSQL database that DATABASE_URL names. The months are one run of the simulator
without slips and are loaded one after another by the program's own loader; in each, two people put a record of the
month before right, answer what was found, and close the month before that, so that the last two stay open. The casks
that the distilling does not fill are there at the opening. FOLDER/next/ holds the tables of one month more, for
benchmarks of loading it. FOLDER/made.json says what it was made with, and the same is not made twice. What was broken
off is gone on with after the last month whose books were kept (FOLDER/making.json).
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tests.benchmarks.keeping_books import Hands
    from tests.simulator.month import Month

SEED = 207
LAST_MONTH = "2026-11"
PASSWORD = "of-benchmarks-only"
PEOPLE = (("ishbel", "staff"), ("una", "manager"), ("ewan", "staff"), ("morag", "officer"), ("greer", "administrator"))
LEFT_OPEN = 2
SECONDS_SILENT = 20.0


def make(folder: Path, months: int, casks: int) -> None:
    """Makes the site, or says that it is there. SystemExit where the folder or the database holds something else."""
    made_with = {"months": months, "casks": casks, "seed": SEED, "engine": _engine()}
    note = folder / "made.json"
    if note.is_file():
        there = json.loads(note.read_text(encoding="utf-8"))
        if {name: there.get(name) for name in made_with} == made_with:
            print(f"{folder} holds it already: {_said(made_with)}.")
            return
        raise SystemExit(f"{folder} holds another site ({_said(there)}); name another folder, or remove that one.")
    folder.mkdir(parents=True, exist_ok=True)
    began = time.perf_counter()
    kept = _Kept(folder / "making.json", made_with)
    _start(folder, anew=not kept.months)
    from tests.benchmarks.monthly_folders import months_from, write_months

    last_year, last_month = (int(part) for part in LAST_MONTH.split("-"))
    first = last_year * 12 + last_month - 1 - months
    names = months_from(f"{first // 12}-{first % 12 + 1:02}", months + 1)
    with TemporaryDirectory() as scratch:
        _say(f"working {months + 1} months through, from {names[0]}", began)
        write_months(_worked(names, casks), names, Path(scratch))
        _keep(Path(scratch), names[:-1], kept)
        shutil.rmtree(folder / "next", ignore_errors=True)
        shutil.copytree(Path(scratch) / names[-1], folder / "next")
    _analyse()
    print("| in it | number |")
    print("| --- | --- |")
    for what, count in _holds():
        print(f"| {what} | {count:,} |")
    seconds = round(time.perf_counter() - began)
    note.write_text(json.dumps({**made_with, "seconds": seconds}, indent=1) + "\n", encoding="utf-8")
    kept.end()
    print(f"made in {seconds} s, of which {time.process_time():.0f} s of processor")


def _worked(names: Sequence[str], casks: int) -> Month:
    """All months worked through, with so many casks maturing at the opening that in the end there are `casks` full."""
    from tests.simulator import work_month

    def work(maturing: int) -> Month:
        return work_month(SEED, clean=True, month=names[0], months=len(names), maturing=maturing)[0]

    # How many are filled hangs on what is drawn, and that not on how many lie there already, unless some are regauged.
    worked = work(casks)
    filled = sum(row["at"][:7] < names[-1] for row in worked.rows["cask_fills"])
    if filled > casks:
        raise SystemExit(f"{len(names) - 1} months fill {filled} casks by themselves; ask for more than that.")
    return work(casks - filled)


class _Kept:
    """The months whose books are kept already, noted in a file beside the site while it is made."""

    def __init__(self, note: Path, made_with: dict[str, Any]) -> None:
        self._note, self._made_with = note, made_with
        there = json.loads(note.read_text(encoding="utf-8")) if note.is_file() else {}
        self.months: list[str] = there.get("months", []) if there.get("made_with") == made_with else []

    def add(self, month: str) -> None:
        self.months.append(month)
        said = {"made_with": self._made_with, "months": self.months}
        self._note.write_text(json.dumps(said, indent=1) + "\n", encoding="utf-8")

    def end(self) -> None:
        self._note.unlink(missing_ok=True)


def _keep(tables: Path, months: Sequence[str], kept: _Kept) -> None:
    """Loads month after month and keeps the books of each as two people would, but of those that are kept already."""
    from batches.loading.load_folder import load_folder
    from tests.benchmarks.keeping_books import close, put_right

    hands = _people()
    for place, month in enumerate(months):
        if month in kept.months:
            continue
        took = _Watch()
        loaded = load_folder(tables / month, person=hands.writer, second=hands.manager, progress=_seldom(month))
        took.note(f"{sum(loaded.records.values())} records loaded")
        if place:
            record = put_right(place, months[place - 1], hands)
            took.note(f"{record.number} put right" if record is not None else "nothing put right")
        if place >= LEFT_OPEN:
            answered = close(months[place - LEFT_OPEN], hands)
            took.note(f"{months[place - LEFT_OPEN]} closed with {answered} answers")
        kept.add(month)
        print(f"{month}: {took.said()}", flush=True)


class _Watch:
    """What was done, how many seconds each took, and how many of them of this process's processor."""

    def __init__(self) -> None:
        self._at, self._processor = time.perf_counter(), time.process_time()
        self._lines: list[str] = []

    def note(self, done: str) -> None:
        now, processor = time.perf_counter(), time.process_time()
        self._lines.append(f"{done} ({now - self._at:.1f} s, processor {processor - self._processor:.1f})")
        self._at, self._processor = now, processor

    def said(self) -> str:
        return ", ".join(self._lines)


def _seldom(month: str) -> Callable[[str], None]:
    """Says how far a long load is, now and then."""
    last = [time.monotonic()]

    def say(line: str) -> None:
        if time.monotonic() - last[0] >= SECONDS_SILENT:
            last[0] = time.monotonic()
            print(f"{month}: {line}", flush=True)

    return say


def _start(folder: Path, *, anew: bool) -> None:
    """Sets the program up on the database to be filled, which has to be empty where it is begun `anew`."""
    if _engine() == "SQLite":
        # What was left before its first month was kept goes, with what SQLite keeps beside it.
        for ending in ("", "-wal", "-shm") if anew else ():
            (folder / f"site.sqlite3{ending}").unlink(missing_ok=True)
        os.environ["DATABASE_URL"] = f"sqlite:///{folder.resolve() / 'site.sqlite3'}"
    os.environ["DJANGO_SETTINGS_MODULE"] = "distillery.settings"
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", interactive=False, verbosity=0)
    from distillery.management.demonstration import is_empty

    if anew and not is_empty():
        raise SystemExit("The database that DATABASE_URL names holds a site already; name an empty one.")


def _people() -> Hands:
    from distillery.people.models import Person
    from tests.benchmarks.keeping_books import Hands
    from tests.people import somebody

    there = {one.username: one for one in Person.objects.filter(username__in=[name for name, _ in PEOPLE])}
    people = {
        name: there.get(name) or somebody(name, role, password=PASSWORD, first_name=name.title())
        for name, role in PEOPLE
    }
    return Hands(people["ishbel"], people["una"])


def _analyse() -> None:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _holds() -> list[tuple[str, int]]:
    """What is in it, counted."""
    from batches.models import Reading, Record, Version
    from distillery.plant.models import Cask
    from ledger.enquiries.models import Enquiry
    from ledger.models import Balance, Gauge, Leg, Movement, MovementKind
    from ledger.periods.models import Closing

    full = Balance.objects.filter(account__vessel__cask__isnull=False, balance_ul__gt=0)
    counted: tuple[tuple[str, Any], ...] = (
        ("records", Record.objects),
        ("versions", Version.objects),
        ("readings along the way", Reading.objects),
        ("movements", Movement.objects),
        ("corrections", Movement.objects.filter(kind=MovementKind.CORRECTION)),
        ("legs", Leg.objects),
        ("gauges", Gauge.objects),
        ("casks", Cask.objects),
        ("casks that are full", full),
        ("enquiries", Enquiry.objects),
        ("months closed", Closing.objects),
    )
    return [(what, rows.count()) for what, rows in counted]


def _engine() -> str:
    return "PostgreSQL" if os.environ.get("DATABASE_URL", "").startswith("postgres") else "SQLite"


def _said(made_with: dict[str, Any]) -> str:
    return ", ".join(f"{name} {value}" for name, value in made_with.items())


def _say(line: str, began: float) -> None:
    print(f"{time.perf_counter() - began:.0f} s: {line}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(prog="tests.benchmarks.large_site", description="Makes a large site.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--months", type=int, default=60, help="months that are loaded")
    parser.add_argument("--casks", type=int, default=20_000, help="full casks in the end")
    asked = parser.parse_args()
    if asked.months < 1 or asked.casks < 1:
        sys.exit("A site has one month and one cask at least.")
    make(asked.folder, asked.months, asked.casks)


if __name__ == "__main__":
    main()
