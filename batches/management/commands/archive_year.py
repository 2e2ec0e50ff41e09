"""Archives a closed year: `manage.py archive_year 2027 FOLDER`."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from batches.pages.bundle.by_command import by_command, written_into

FIRST_YEAR, LAST_YEAR = 1900, 9998


class Command(BaseCommand):
    help = "Writes a closed year as PDF and tables, with the ledger and the digest of every file, into a folder."
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("year", type=int, help="the calendar year, as 2027")
        parser.add_argument("folder", type=Path, help="folder to write into: empty, or not there yet")

    def handle(self, *args: Any, **options: Any) -> None:
        from batches.pages.bundle.making import PAPER
        from batches.pages.bundle.year import DIGESTS, archive_year

        year, folder = int(options["year"]), Path(options["folder"])
        if not FIRST_YEAR <= year <= LAST_YEAR:
            raise CommandError(f"{year} is not a year of any books; write it as 2027.")
        with written_into(folder):
            made, files = archive_year(year, folder, **by_command())
        self.stdout.write(
            f"Wrote {year} to {folder}: {made.pages} pages of {PAPER}, {made.movements} movements, {files} files. "
            f"Digest of the document {made.digest[:16]}.\n"
            f"{DIGESTS} has the digest of every file (sha256sum --check {DIGESTS}); README.txt says what each is. "
            "Keep two of them on media of different kinds, and note the digest of the document on paper. "
            "Nothing is taken out of the books."
        )
