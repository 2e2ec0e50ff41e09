"""Writes the whole ledger into a folder as tables and sealed lines, with the means to check them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from ledger.proof.exporting import FolderNotEmpty, export


class Command(BaseCommand):
    help = "Exports the whole ledger as CSV tables and JSON lines with every seal, and a verifier to check them."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", type=Path, help="folder to write into: empty, or not there yet")

    def handle(self, *args: Any, **options: Any) -> None:
        folder: Path = options["folder"]
        try:
            done = export(folder)
        except FolderNotEmpty as refused:
            raise CommandError(str(refused)) from refused
        except (OSError, ValueError) as error:
            said = getattr(error, "strerror", None) or error
            raise CommandError(f"{folder} cannot be written: {said}. Name another folder.") from error
        self.stdout.write(
            f"Wrote {done.movements} movements with {done.legs} legs to {folder}. Last seal {done.last_seal[:16]}.\n"
            f"README.txt there says what every column is; verify_export.py checks it without this program."
        )
