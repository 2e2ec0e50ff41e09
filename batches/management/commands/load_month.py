"""Loads a month's tables: `manage.py load_month FOLDER`."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from batches.loading.load_folder import BadRows, Loaded, load_folder
from batches.steps import sheet_of
from distillery.database.retrying import Busy
from distillery.people.models import Person
from distillery.people.roles import may_write

# More lines than this nobody reads; the count says that there are more.
MOST_SAID = 200


class Command(BaseCommand):
    requires_system_checks = []
    # Given by the command `demo` alone.
    stealth_options = ("demonstration",)
    help = "Loads the plant/ and log/ tables of a folder, in order of time, all or nothing."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, help="the folder that holds plant/ and log/")
        parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
        parser.add_argument("--person", default="", help="sign-on name in whose hand the log is written")
        parser.add_argument("--second", default="", help="sign-on name of the second person of the stock takes")

    def handle(self, *args: Any, **options: Any) -> None:
        folder: Path = options["folder"]
        as_json: bool = options["json"]
        quiet = options["verbosity"] == 0
        person, second = _person(options["person"]), _person(options["second"])
        if person is not None and person == second:
            raise CommandError(f"{person.username} cannot be both persons; name someone else with --second.")

        def say(line: str) -> None:
            if not quiet:
                self.stderr.write(line)

        try:
            loaded = load_folder(
                folder, person=person, second=second, progress=say, demonstration=bool(options.get("demonstration"))
            )
        except BadRows as refused:
            if as_json:
                bad = [asdict(row) for row in refused.bad]
                self.stdout.write(json.dumps({"loaded": False, "bad_rows": bad}, ensure_ascii=False))
                raise SystemExit(1) from refused
            for row in refused.bad[:MOST_SAID]:
                self.stderr.write(str(row))
            raise CommandError(_counted(refused, folder)) from refused
        except Busy as busy:
            raise CommandError("The books are busy; nothing was loaded; load again.") from busy
        if as_json:
            document = {"loaded": True, "bad_rows": [], **asdict(loaded)}
            self.stdout.write(json.dumps(document, ensure_ascii=False))
        elif not quiet:
            self.stdout.write(_summary(loaded))


def _person(username: str) -> Person | None:
    if not username:
        return None
    person = Person.objects.filter(username=username).first()
    if person is None:
        raise CommandError(f"There is no person {username} on this site.")
    if not may_write(person):
        raise CommandError(f"{username} may read but not write; name someone on shift.")
    return person


def _counted(refused: BadRows, folder: Path) -> str:
    count = len(refused.bad)
    noun = "bad row" if count == 1 else "bad rows"
    said = f"The first {MOST_SAID} are above. " if count > MOST_SAID else ""
    more = "At least " if refused.and_more else ""
    return f"{said}{more}{count} {noun} in {folder}; nothing was loaded."


def _summary(loaded: Loaded) -> str:
    lines = [f"{count} {sheet_of(kind).plural.lower()}" for kind, count in loaded.records.items()]
    lines += [f"{count} {what}" for what, count in loaded.plant.items()]
    if loaded.readings:
        lines.append(f"{loaded.readings} readings")
    head = "Loaded:" if lines else "Nothing new."
    said = "\n".join([head, *(f"  {line}" for line in lines)])
    if loaded.passed_over:
        said += f"\n{loaded.passed_over} rows were there already."
    return "\n".join(filter(None, (said, loaded.books_clock, loaded.ahead)))
