"""Writes a consistent copy of the whole database while the site runs."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection

from distillery import figures
from distillery.management.copies import ENDINGS, CopyRefused, take
from distillery.seals.lookup import file_part, last_seal_if_any, named


class Command(BaseCommand):
    help = "Writes a consistent copy of the database to a new FILE; the site may go on meanwhile."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "file", type=Path, metavar="FILE", help="a new file, or a folder, where the last seal names it"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        file: Path = options["file"]
        # Whatever is written from here on may or may not be in the copy; all before it is.
        last = last_seal_if_any()
        if file.is_dir():
            file = file / f"gaugebook-{file_part(last)}.{ENDINGS.get(connection.vendor, 'copy')}"
        try:
            take(connection, file)
        except CopyRefused as refused:
            raise CommandError(str(refused)) from refused
        size = figures.count(file.stat().st_size)
        self.stdout.write(f"{file} is a complete copy ({size} bytes) and reads back well.")
        if last is not None:
            self.stdout.write(f"Seal {named(last)} is in it. Note it where the copy is not.")
