"""Reads a workbook of plant, casks and opening stock: `manage.py bring_in WORKBOOK [--write]`."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from batches.loading.progress import now_and_then
from batches.loading.workbook.report import Report
from distillery.database.retrying import Busy
from distillery.people.models import Person
from distillery.people.roles import may_write

MOST_SAID = 1000


class Command(BaseCommand):
    requires_system_checks = []
    help = (
        "Reads a workbook of plant, casks and opening stock and says what it would bring in, or every problem by sheet "
        "and cell. With --write it is brought in, all or nothing."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("workbook", type=Path, help="the .xlsx workbook")
        parser.add_argument("--write", action="store_true", help="bring it in; without it nothing is written")
        parser.add_argument("--template", action="store_true", help="write an empty workbook to fill in, and end")
        parser.add_argument("--rows", action="store_true", help="name every row, not only how many there are")
        parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
        parser.add_argument("--person", default="", help="sign-on name in whose hand it is written")

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["workbook"]
        if options["template"]:
            self._template(path)
            return
        from batches.loading.workbook.bringing import bring_in

        quiet = options["verbosity"] == 0 or options["json"]
        say = now_and_then((lambda line: None) if quiet else self.stderr.write)
        try:
            report = bring_in(path, write=options["write"], person=_person(options["person"]), say=say)
        except Busy as busy:
            raise CommandError("The books are busy; nothing was written; do it again.") from busy
        if options["json"]:
            import msgspec

            self.stdout.write(json.dumps(msgspec.to_builtins(report), ensure_ascii=False))
            if report.troubles:
                raise SystemExit(1)
            return
        for trouble in report.troubles[:MOST_SAID]:
            self.stderr.write(str(trouble))
        if report.troubles:
            raise CommandError(_counted(report))
        if options["verbosity"]:
            self.stdout.write(_summary(report, with_rows=options["rows"]))

    def _template(self, path: Path) -> None:
        from batches.loading.workbook.template import write_template

        try:
            with path.open("xb") as file:
                write_template(file)
        except FileExistsError as error:
            raise CommandError(f"{path} is there already; name a new file.") from error
        except OSError as error:
            raise CommandError(f"{path} cannot be written: {error.strerror}.") from error
        self.stdout.write(f"An empty workbook is in {path}.")


def _person(username: str) -> Person | None:
    if not username:
        return None
    person = Person.objects.filter(username=username).first()
    if person is None:
        raise CommandError(f"There is no person {username} on this site.")
    if not may_write(person):
        raise CommandError(f"{username} may read but not write; name someone on shift.")
    return person


def _counted(report: Report) -> str:
    number = len(report.troubles)
    said = f"The first {MOST_SAID} are above. " if number > MOST_SAID else ""
    least = "At least " if report.and_more else ""
    return f"{said}{least}{number} {'problem' if number == 1 else 'problems'}; nothing was written."


def _summary(report: Report, *, with_rows: bool) -> str:
    lines = [
        f"  {one.sheet}: {one.new} new" + (f", {one.there} there already" if one.there else "") for one in report.counts
    ]
    if with_rows:
        lines += [
            f"  {row.sheet}, row {row.row}: {row.what}{' (there already)' if row.is_there else ''} {row.says}".rstrip()
            for row in report.rows
        ]
    if report.opening_ul:
        lines.append(f"  Opening stock: {report.opening_ul / 1e6:.3f} LPA")
    head = "Nothing new." if not report.new else "Brought in:" if report.written else "Would be brought in:"
    said = "\n".join(filter(None, (head, *lines, report.ahead)))
    return said if report.written or not report.new else f"{said}\nNothing was written; add --write to bring it in."
