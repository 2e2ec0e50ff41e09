"""The records of some months for an officer: `manage.py officer_bundle --from 2027-01 --to 2027-03 FOLDER`."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from batches.pages.bundle.by_command import by_command, written_into
from batches.pages.bundle.chosen import EVERY
from batches.pages.bundle.months import months_of


class Command(BaseCommand):
    help = "Writes the records of some months as one PDF with its tables, the ledger and a verifier into a folder."
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, help="folder to write into: empty, or not there yet")
        parser.add_argument("--from", dest="first", required=True, help="the first month, as 2027-01")
        parser.add_argument("--to", dest="last", required=True, help="the last month, as 2027-03")
        parser.add_argument(
            "--part",
            dest="parts",
            action="append",
            default=[],
            choices=EVERY,
            metavar="PART",
            help=f"only this part, and others named so: {', '.join(EVERY)}",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        from batches.pages.bundle.making import PAPER, make_bundle

        folder: Path = options["folder"]
        with written_into(folder):
            made = make_bundle(months_of(options["first"], options["last"], options["parts"]), folder, **by_command())
        self.stdout.write(
            f"Wrote {made.documents} documents on {made.pages} pages of {PAPER} and {made.movements} movements to "
            f"{folder}. Digest of the bundle {made.digest[:16]}.\n"
            f"README.txt there says what each file is; verify_export.py checks them without this program."
        )
