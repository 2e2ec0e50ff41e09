"""Fills an empty database with the demonstration site and serves it on this computer."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
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
from distillery.management.demonstration_year import HowFar, load_months, months_left
from distillery.management.loading_beside import loading_beside


class Command(BaseCommand):
    help = "Fills an empty database with an invented distillery and serves it at 127.0.0.1."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, default=8000, help="port to listen on (8000; 0 takes a free one)")
        parser.add_argument("--no-serve", action="store_true", help="fill the database only")
        parser.add_argument("--month", action="store_true", help="load March 2027 alone, of another Harrowmere")

    def handle(self, *args: Any, **options: Any) -> None:
        if not 0 <= options["port"] <= HIGHEST_PORT:
            # Said before the minute of loading, not after it.
            raise CommandError(f"There is no port {options['port']}; give --port a number from 0 to {HIGHEST_PORT}.")
        call_command("migrate", interactive=False, verbosity=0)
        if not (is_demonstration() or is_empty()):
            raise CommandError(
                "The database holds a site already, and the demonstration is never put on top of one. "
                "Name an empty database in DATABASE_URL, or run `serve`."
            )
        beside: tuple[Callable[[], AbstractContextManager[None]], ...] = ()
        if options["month"] and is_empty():
            self._fill_with_month()
        elif not months_left():
            self.stdout.write("The demonstration is in the database already.")
        elif options["no_serve"]:
            self._fill_with_year()
        else:
            beside = (loading_beside,)
            self.stdout.write("A year of Harrowmere, a distillery made up for this program, is loaded meanwhile.")
        self._say_when()
        self._say_who()
        if not options["no_serve"]:
            call_command(
                "serve",
                host="127.0.0.1",
                port=options["port"],
                beside=beside,
                stdout=self.stdout,
                stderr=self.stderr,
            )

    def _fill_with_year(self) -> None:
        self.stdout.write("Loading a year of Harrowmere, a distillery made up for this program ...")
        self.stdout.flush()
        load_months(self._tell)

    def _tell(self, far: HowFar) -> None:
        if not far.entries:
            self.stdout.write(f"  {far.sentence}")
            self.stdout.flush()

    def _fill_with_month(self) -> None:
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
