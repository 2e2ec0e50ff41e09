"""A database for one run, on the engine that DATABASE_URL names (SQLite if none), and a server that can be killed."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.running_site import ROOT, SECRET_KEY, Databases, environment

LONGEST_START_S = 60
LONGEST_CLOSING_S = 20
# Names a database that `migrate` has made, to begin with a copy of it.
BEGIN_WITH = "GAUGEBOOK_TESTS_BEGIN_WITH"


@contextmanager
def scratch_database() -> Iterator[str]:
    """Makes an empty database, or a copy of the one BEGIN_WITH names, and sets Django up on it; drops it at the end."""
    with tempfile.TemporaryDirectory() as folder:
        databases = Databases(Path(folder))
        try:
            url = databases.copy_of(os.environ[BEGIN_WITH]) if BEGIN_WITH in os.environ else databases.new()
            os.environ["DATABASE_URL"] = url
            os.environ["SECRET_KEY"] = SECRET_KEY
            os.environ["DJANGO_SETTINGS_MODULE"] = "distillery.settings"
            import django

            django.setup()
            from django.db import connection

            yield url
            connection.close()
        finally:
            databases.close()


@contextmanager
def scratch_site() -> Iterator[str]:
    """Makes a database with the small plant in it, sets Django up on it, and drops it at the end. Gives its address."""
    with scratch_database() as url:
        from django.core.management import call_command

        from tests.faults import small_plant

        call_command("migrate", interactive=False, verbosity=0)
        small_plant.build()
        yield url


def start(url: str, port: int = 0) -> tuple[subprocess.Popen[str], str]:
    """Starts the light server, at any free port if none is named; gives the process and its address once it serves."""
    return begin(made_ready(url, port))


def made_ready(url: str, port: int = 0) -> subprocess.Popen[str]:
    """A light server that has all it needs imported, and neither listens nor asks the database before it begins."""
    return subprocess.Popen(
        [sys.executable, "-m", "tests.faults.light_server"],
        cwd=ROOT,
        env=environment(url, LOG_LEVEL="ERROR", PORT=str(port), WAIT="1"),
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )


def begin(process: subprocess.Popen[str]) -> tuple[subprocess.Popen[str], str]:
    """Lets a server that was made ready serve; gives it and its address once it does."""
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write("\n")
    process.stdin.flush()
    line = process.stdout.readline()
    if not line.startswith("Serving at "):
        kill(process)
        raise AssertionError("The server did not start.")
    return process, line.split()[2].rstrip("/")


def kill(process: subprocess.Popen[str]) -> None:
    """kill -9, by its id."""
    process.kill()
    process.wait()
    for pipe in (process.stdin, process.stdout):
        if pipe is not None:
            pipe.close()


def wait_until_nobody_writes() -> None:
    """PostgreSQL notices that a client has died when the statement it was in has ended; SQLite at once."""
    from django.db import connection

    if connection.vendor != "postgresql":
        return
    until = time.monotonic() + LONGEST_CLOSING_S
    while time.monotonic() < until:
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT state, query FROM pg_stat_activity"
                " WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )
            there = cursor.fetchall()
        if not there:
            return
        time.sleep(0.02)
    raise AssertionError(f"Sessions of a server that is dead are still there: {there}")
