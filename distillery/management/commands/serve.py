"""Serves the site for daily use: a production server, static files under hashed names, no debug."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path
from typing import Any, Final

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser, SystemCheckError
from django.core.wsgi import get_wsgi_application
from django.db import DEFAULT_DB_ALIAS, connection

from distillery.copies.keeper import CopiesKeeper
from distillery.copies.upgrading import NotUpgraded, bring_up_to_date
from distillery.database.counted_tables import count_tables
from distillery.first_run import code
from distillery.health.clock_steps import ClockKeeper
from distillery.health.log_file import keep_log
from distillery.jobs.keeper import LongWorkKeeper
from distillery.management.beside import working_beside
from distillery.management.demonstration import is_demonstration
from distillery.management.listening import listening
from distillery.management.moving import own_name
from distillery.people.models import Person
from distillery.seals.keeper import SealsKeeper

HASHED_NAMES: Final = "whitenoise.storage.CompressedManifestStaticFilesStorage"
HIGHEST_PORT: Final = 65535
THIS_COMPUTER: Final = frozenset({"127.0.0.1", "localhost", "::1"})


class Command(BaseCommand):
    help = "Serves the site: brings the database up to date, checks its triggers, and starts a production server."
    # They are run after the database is up to date: before, a new database would fail them.
    requires_system_checks = []
    # What else is entered while it serves; given by the command `demo` alone.
    stealth_options = ("beside",)

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on (default: this computer only)")
        parser.add_argument(
            "--seals", type=Path, metavar="FILE", help="note each day's last seal in this file elsewhere (SEALS_FILE)"
        )
        parser.add_argument("--port", type=int, default=8000, help="port to listen on (8000; 0 takes a free one)")

    def handle(self, *args: Any, **options: Any) -> None:
        host, port = str(options["host"]), int(options["port"])
        if not 0 <= port <= HIGHEST_PORT:
            raise CommandError(f"There is no port {port}; give --port a number from 0 to {HIGHEST_PORT}.")
        if settings.DEBUG:
            raise CommandError("DEBUG is on, which shows the program's insides to anyone. Turn it off and serve again.")
        # Templates ask for names lazily, so nothing has looked at the storage yet.
        settings.STORAGES = {**settings.STORAGES, "staticfiles": {"BACKEND": HASHED_NAMES}}
        keep_log(settings.LOG_FOLDER, "site")
        try:
            bring_up_to_date(connection, self._tell)
        except NotUpgraded as refused:
            raise CommandError(str(refused)) from refused
        count_tables()
        self._sound()
        if host not in THIS_COMPUTER and is_demonstration():
            raise CommandError(
                "This database is the demonstration, whose passwords anybody can read. It is served to this computer "
                "only: leave out --host, or start from an empty database."
            )
        call_command("collectstatic", interactive=False, verbosity=0)
        try:
            server = listening(get_wsgi_application(), host=host, port=port, trusted_proxy=settings.TRUSTED_PROXY)
        except (OSError, ValueError, UnicodeError) as error:
            said = getattr(error, "strerror", None) or error
            raise CommandError(
                f"Nothing can be served at {host} port {port}: {said}. Stop what is using it, or give another --port."
            ) from error
        heard_at = getattr(server, "effective_listen", None) or [(server.effective_host, server.effective_port)]
        for address, taken in heard_at:
            shown = f"[{address}]" if ":" in address else address
            self.stdout.write(f"Serving at http://{shown}:{taken}/ until Ctrl-C.")
        self.stdout.write(f"The database is {own_name(connection)}; all else of the site lies in {settings.SITE_DIR}.")
        self._first_run(heard_at[0][1])
        self.stdout.flush()
        seals = options["seals"] or (Path(settings.SEALS_FILE) if settings.SEALS_FILE else None)
        settings.STARTS_LONG_WORK = True
        # The demonstration can be made anew at any time.
        settings.SAYS_COPIES = settings.KEEPS_COPIES and not is_demonstration()
        with ExitStack() as kept:
            kept.enter_context(LongWorkKeeper())
            kept.enter_context(working_beside())
            kept.enter_context(ClockKeeper())
            for entered in options.get("beside") or ():
                kept.enter_context(entered())
            if settings.SAYS_COPIES:
                kept.enter_context(CopiesKeeper(warn=self.stderr.write))
            if seals is not None:
                kept.enter_context(SealsKeeper(seals, warn=self.stderr.write))
            server.run()

    def _tell(self, sentence: str) -> None:
        self.stdout.write(sentence)
        self.stdout.flush()

    def _first_run(self, port: int) -> None:
        """Where nobody can sign on yet: the way to be the first, which only this console knows."""
        if not Person.objects.exists():
            self.stdout.write(
                f"Nobody can sign on yet. On this computer open http://127.0.0.1:{port}/first-run/ and type the code "
                f"{code.make()} to make the first manager."
            )

    def _sound(self) -> None:
        try:
            self.check(databases=[DEFAULT_DB_ALIAS])
        except SystemCheckError as found:
            raise CommandError(f"The site is not served, because its checks found errors.\n{found}") from found
