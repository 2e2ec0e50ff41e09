"""Adds every account up again, compares the kept sums, checks every seal, and looks for seals noted elsewhere."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from distillery.seals.lookup import gaps, last_seal, named, said_of
from distillery.seals.noted import Noted, UnreadableNote, compared_with
from ledger.proof.checking import NoDigest
from ledger.proof.noted import look_for
from ledger.proof.parts.processes import as_many_as_help
from ledger.proof.parts.since import NoClosing
from ledger.proof.proving import Proof, prove

# What takes no longer than this needs no telling.
SAY_AFTER_S: Final = 2.0


class Progress:
    """Says what part the proof is at, once it has taken more than two seconds; each part once."""

    def __init__(self, write: Callable[[str], object]) -> None:
        self._write = write
        self._began = time.monotonic()
        self._said = ""

    def __call__(self, part: str) -> None:
        if part != self._said and time.monotonic() - self._began > SAY_AFTER_S:
            self._write(f"Proving {part} ...")
            self._said = part


def _untold(_part: str) -> None:
    """Where nothing but the document is wanted."""


class Command(BaseCommand):
    help = "Proves the ledger: every account added up again, every kept sum compared, every seal recomputed."
    # A missing trigger is among what the proof says.
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
        parser.add_argument("--expect", metavar="SEAL", help="a seal noted elsewhere: says whether it stands here")
        parser.add_argument(
            "--seals", type=Path, metavar="FILE", help="a file of noted seals to compare with (else SEALS_FILE, if set)"
        )

        parser.add_argument(
            "--from-closing",
            action="store_true",
            help="prove what was written from the last closing on, and take everything before it as that closing says",
        )

        parser.add_argument(
            "--processes",
            type=int,
            metavar="N",
            help="prove in so many processes (else one for each core where the books are large)",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            expected = look_for(options["expect"]) if options["expect"] else None
            file = options["seals"] or (Path(settings.SEALS_FILE) if settings.SEALS_FILE else None)
            apart = compared_with(file) if file is not None else []
        except (NoDigest, UnreadableNote) as wrong:
            raise CommandError(str(wrong)) from wrong
        try:
            quiet = options["json"] or options["verbosity"] == 0
            proof = prove(
                from_closing=options["from_closing"],
                processes=options["processes"] or as_many_as_help(),
                told=_untold if quiet else Progress(self.stderr.write),
            )
        except NoClosing as none:
            raise CommandError(str(none)) from none
        # What is noted elsewhere tells more than what is inside, so it comes first.
        proof.broken[:0] = [*([] if expected is None or expected.stands else [expected.sentence]), *apart]
        if options["json"]:
            self.stdout.write(json.dumps(self._plain(proof, expected)))
            if not proof.holds:
                raise SystemExit(1)
            return
        self.stdout.write(
            f"Read {proof.movements} movements, {proof.legs} legs, {proof.gauges} gauges, {proof.accounts} accounts. "
            f"Last seal of a movement {proof.last_seal[:16]}."
        )
        for sentence in proof.not_looked_at:
            self.stdout.write(sentence)
        last = last_seal()
        if last is not None:
            self.stdout.write(f"Last seal of the books: {named(last)}.")
        for gap in gaps():
            self.stdout.write(said_of(gap))
        if expected is not None:
            self.stdout.write(expected.sentence)
        for remark in proof.remarks:
            self.stdout.write(f"Remark: {remark}.")
        if not proof.holds:
            for place in proof.places[1:10]:
                self.stderr.write(place)
            raise CommandError(f"First broken place: {proof.places[0]} ({len(proof.places)} in all)")
        self.stdout.write(
            "Every account adds up, every kept sum agrees, every seal holds."
            if not proof.not_looked_at
            else "From that closing on every account adds up, every kept sum agrees, every seal holds."
        )

    def _plain(self, proof: Proof, expected: Noted | None) -> dict[str, Any]:
        last = last_seal()
        return {
            "holds": proof.holds,
            "movements": proof.movements,
            "legs": proof.legs,
            "gauges": proof.gauges,
            "accounts": proof.accounts,
            "last_seal": proof.last_seal,
            "books_seal": last.seal if last is not None else "",
            "books_seal_number": last.number if last is not None else 0,
            "gaps": [said_of(gap) for gap in gaps()],
            "expected": None if expected is None else {"stands": expected.stands, "said": expected.sentence},
            "broken": proof.places,
            "remarks": proof.remarks,
            "not_looked_at": proof.not_looked_at,
        }
