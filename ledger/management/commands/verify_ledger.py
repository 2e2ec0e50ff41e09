"""Adds every account up again, compares the kept sums, checks every seal in the chain."""

from __future__ import annotations

import json
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from ledger.proving import prove


class Command(BaseCommand):
    help = "Proves the ledger: every account added up again, every kept sum compared, every seal recomputed."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")

    def handle(self, *args: Any, **options: Any) -> None:
        proof = prove()
        if options["json"]:
            self.stdout.write(
                json.dumps(
                    {
                        "holds": proof.holds,
                        "movements": proof.movements,
                        "legs": proof.legs,
                        "gauges": proof.gauges,
                        "accounts": proof.accounts,
                        "last_seal": proof.last_seal,
                        "broken": proof.places,
                    }
                )
            )
            if not proof.holds:
                raise SystemExit(1)
            return
        self.stdout.write(
            f"Read {proof.movements} movements, {proof.legs} legs, {proof.gauges} gauges, {proof.accounts} accounts. "
            f"Last seal {proof.last_seal[:16]}."
        )
        if not proof.holds:
            raise CommandError(f"First broken place: {proof.places[0]} ({len(proof.places)} in all)")
        self.stdout.write("Every account adds up, every kept sum agrees, every seal holds.")
