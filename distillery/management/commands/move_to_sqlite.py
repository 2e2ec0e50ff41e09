"""Moves a site from PostgreSQL to SQLite, with proof."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser

from distillery.management.copies import UNFINISHED
from distillery.management.moving_command import MovingCommand


class Command(MovingCommand):
    help = "Copies everything into a new SQLite file, and proves both equal."
    into = "sqlite"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE", help="a new file")

    def handle(self, *args: Any, **options: Any) -> None:
        file: Path = options["file"].absolute()
        if file.exists():
            raise CommandError(f"{file} is there already, and is never written over. Give another name.")
        if not file.parent.is_dir():
            raise CommandError(f"There is no folder {file.parent}. Make it first.")
        unfinished = file.with_name(f"{file.name}{UNFINISHED}")
        _take_away(unfinished)
        try:
            self.move_to(f"sqlite:///{unfinished}", str(file))
            with closing(sqlite3.connect(unfinished)) as database:
                # Whole in one file, before it gets its name.
                database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            unfinished.rename(file)
        finally:
            _take_away(unfinished)
        self.after(f"sqlite:///{file}")


def _take_away(file: Path) -> None:
    for ending in ("", "-wal", "-shm", "-journal"):
        file.with_name(f"{file.name}{ending}").unlink(missing_ok=True)
