"""Writes a consistent copy of the whole database while the site runs."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection

from distillery import figures
from distillery.management.copies import CopyRefused, take


class Command(BaseCommand):
    help = "Writes a consistent copy of the database to a new FILE; the site may go on meanwhile."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")

    def handle(self, *args: Any, **options: Any) -> None:
        file: Path = options["file"]
        try:
            take(connection, file)
        except CopyRefused as refused:
            raise CommandError(str(refused)) from refused
        size = figures.count(file.stat().st_size)
        self.stdout.write(f"{file} is a complete copy ({size} bytes) and reads back well.")
