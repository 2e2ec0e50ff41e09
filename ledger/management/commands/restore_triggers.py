"""Names triggers that are missing or not as the program makes them, puts them right, and proves the books.

What it finds is printed before it is put right, because a trigger that somebody changed is a reason to ask why.
"""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection, transaction

from distillery.database.guard_faults import faults, strangers
from distillery.database.guards import renew
from distillery.seals.writing import written_by
from distillery.trail.checks import all_guards
from distillery.trail.migrating import take_in
from ledger.proof.proving import prove
from ledger.proof.unguarded import hand_left, take_hand_away


class Command(BaseCommand):
    help = "Puts back triggers that are missing or not as the program makes them, names each, and proves the books."
    # The check for missing triggers is what brought somebody here.
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--take-in",
            action="store_true",
            help="after a migration that failed: note rows that are apart from their trail as they now stand",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        said = self._put_right()
        if said:
            self.stdout.write("A failed migration leaves triggers down, and a new version may make one otherwise. If")
            self.stdout.write("there was neither, find out who did this: anybody could have changed anything since.")
        else:
            self.stdout.write("Every trigger stands as the program makes it.")
        if options["take_in"]:
            with written_by(None, "restore_triggers"):
                noted = take_in(connection)
            for row in noted:
                self.stdout.write(f"Noted as it stands: {row}.")
        proof = prove()
        if not proof.holds:
            raise CommandError(f"First broken place: {proof.places[0]} ({len(proof.places)} in all)")
        self.stdout.write("Every account adds up, every kept sum agrees, every seal holds.")

    def _put_right(self) -> list[str]:
        """Names everything that does not stand as it should, then makes it as it should be."""
        guards = all_guards(connection)
        wrong, others = faults(connection, guards), strangers(connection, guards)
        hand = list(hand_left(connection))
        gone = [fault.guard.name for fault in wrong if fault.missing]
        said = [f"Put back {len(gone)}: {', '.join(gone)}."] if gone else []
        said += [f"{fault.sentence}. It is made anew." for fault in wrong if not fault.missing]
        said += [f"{one.sentence}. It is taken away." for one in others]
        said += [f"{one}. It is emptied." for one in hand]
        for sentence in said:
            self.stdout.write(sentence)
        with transaction.atomic():
            renew(connection, [fault.guard for fault in wrong])
            with connection.cursor() as cursor:
                for one in others:
                    cursor.execute(one.remove)
            if hand:
                take_hand_away(connection)
        return said
