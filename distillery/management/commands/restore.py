"""Puts a copy of the database back into an empty place and proves its ledger."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection

from distillery import figures
from distillery.management.copies import CopyRefused, put_back
from distillery.seals.lookup import day_of, last_seal, named
from distillery.seals.losing import note_put_back


class Command(BaseCommand):
    help = "Puts the copy in FILE into an empty database and proves the ledger in it with verify_ledger."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")
        parser.add_argument(
            "--seals",
            type=Path,
            metavar="NOTED",
            help="a file of noted seals to compare with (else SEALS_FILE)",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        file: Path = options["file"]
        try:
            put_back(connection, file)
        except CopyRefused as refused:
            raise CommandError(str(refused)) from refused
        call_command("migrate", interactive=False, verbosity=0)
        last = last_seal()
        note_put_back(file.name)
        said = f"The last entry in it was written on {day_of(last)}, {figures.clock(last.made_at)}." if last else ""
        self.stdout.write(f"{file} is back in the database. {said} Its ledger is proved now:".replace("  ", " "))
        # Whoever puts an older copy back is told first which noted seals it lacks.
        call_command("verify_ledger", seals=options["seals"], stdout=self.stdout, stderr=self.stderr)
        if last is None:
            self.stdout.write("It holds no seal of the books: nothing was written before it was copied.")
        else:
            self.stdout.write(
                f"Its last seal is {named(last)}: nothing written after that is in it. If paper or a file holds a "
                "later one, two people record the gap under Books, Seals."
            )
