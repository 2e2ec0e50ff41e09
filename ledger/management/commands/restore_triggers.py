"""Puts back triggers that are missing, says which they were, and proves the books as they now stand."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection

from distillery.guards import install, missing
from distillery.seals.writing import written_by
from distillery.trail.checks import all_guards
from distillery.trail.migrating import take_in
from ledger.proving import prove


class Command(BaseCommand):
    help = "Puts back missing triggers and proves the books. While they were gone, anybody could have changed anything."
    # The check for missing triggers is what brought somebody here.
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--take-in",
            action="store_true",
            help="after a migration that failed: note rows that are apart from their trail as they now stand",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        gone = missing(connection, all_guards(connection))
        install(connection, all_guards(connection))
        if gone:
            self.stdout.write(f"Put back {len(gone)}: {', '.join(gone)}.")
            self.stdout.write("A failed migration leaves them down. If there was none, find out who took them away.")
        else:
            self.stdout.write("Every trigger stands.")
        if options["take_in"]:
            with written_by(None, "restore_triggers"):
                noted = take_in(connection)
            for row in noted:
                self.stdout.write(f"Noted as it stands: {row}.")
        proof = prove()
        if not proof.holds:
            raise CommandError(f"First broken place: {proof.broken[0]} ({len(proof.broken)} in all)")
        self.stdout.write("Every account adds up, every kept sum agrees, every seal holds.")
