"""Fills an empty database with the demonstration site and serves it on this computer."""

from __future__ import annotations

from io import StringIO
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction

from distillery.clock.reading import standing
from distillery.management.commands.serve import HIGHEST_PORT
from distillery.management.demonstration import (
    GUESTS,
    SIGNS_AS_SECOND,
    TABLES,
    WRITES_THE_LOG,
    invite,
    is_demonstration,
    is_empty,
)


class Command(BaseCommand):
    help = "Fills an empty database with an invented distillery and serves it at 127.0.0.1."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, default=8000, help="port to listen on (8000; 0 takes a free one)")
        parser.add_argument("--no-serve", action="store_true", help="fill the database only")

    def handle(self, *args: Any, **options: Any) -> None:
        if not 0 <= options["port"] <= HIGHEST_PORT:
            # Said before the minute of loading, not after it.
            raise CommandError(f"There is no port {options['port']}; give --port a number from 0 to {HIGHEST_PORT}.")
        call_command("migrate", interactive=False, verbosity=0)
        if is_demonstration():
            self.stdout.write("The demonstration is in the database already.")
        elif is_empty():
            self._fill()
        else:
            raise CommandError(
                "The database holds a site already, and the demonstration is never put on top of one. "
                "Name an empty database in DATABASE_URL, or run `serve`."
            )
        self._say_when()
        self._say_who()
        if not options["no_serve"]:
            call_command("serve", host="127.0.0.1", port=options["port"], stdout=self.stdout, stderr=self.stderr)

    def _fill(self) -> None:
        self.stdout.write("Loading March 2027 of Harrowmere, a distillery made up for this program ...")
        self.stdout.flush()
        with transaction.atomic():
            invite()
            call_command(
                "load_month",
                TABLES,
                person=WRITES_THE_LOG,
                second=SIGNS_AS_SECOND,
                stdout=StringIO(),
                demonstration=True,
            )

    def _say_when(self) -> None:
        clock = standing()
        if clock is not None:
            self.stdout.write(f"The clock of these books stands at {clock.shown}, {clock.away}.")

    def _say_who(self) -> None:
        self.stdout.write("Sign on as one of these:")
        for guest in GUESTS:
            self.stdout.write(f"  {guest.username:<8} password {guest.password:<14} ({guest.role})")
        self.stdout.flush()
