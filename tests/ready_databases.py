"""Databases for tests, each made once in a whole run and copied: migrated, with the sample month, filled by a test."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

import environ
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.base.base import BaseDatabaseWrapper

from tests.made_once import made_once
from tests.running_site import Databases, run

SAMPLE_MONTH = Path(__file__).resolve().parent.parent / "fixtures" / "sample-month"
# Where the processes of one run find what is made once for all of them; set by the first, which ends last.
SHARED_FOLDER = "GAUGEBOOK_TESTS_SHARED"
# What the tests write happened in March and April 2027, so the books they write it in stand a little later.
BOOKS_STAND_AT = datetime(2027, 5, 15, 12, tzinfo=UTC)


def shared_folder() -> Path:
    return Path(os.environ[SHARED_FOLDER])


def migrated() -> str:
    return made_once(shared_folder(), "migrated", _migrate)


def _migrate() -> str:
    url = Databases(shared_folder(), "migrated").new()
    done = run(url, "migrate", "--verbosity", "0")
    assert done.returncode == 0, done.stdout + done.stderr
    return url


def demonstrated() -> str:
    return made_once(shared_folder(), "demo", _demonstration)


def _demonstration() -> str:
    """Fills a database with the demonstration; gives its DATABASE_URL.

    Its clock is set beforehand to the second day after its month, so that the month is over and nothing a test writes
    depends on the time of the day; left to itself `demo` sets it to the month's end.
    """
    url = Databases(shared_folder(), "demo").copy_of(migrated())
    set_first = (
        "from datetime import UTC, datetime\n"
        "from distillery.clock.setting import days_until, set_clock\n"
        "set_clock(days_until(datetime(2027, 4, 2, 12, tzinfo=UTC)), why='for tests')"
    )
    for command in (("shell", "--verbosity", "0", "-c", set_first), ("demo", "--month", "--no-serve")):
        done = run(url, *command)
        assert done.returncode == 0, done.stdout + done.stderr
    return url


def beside(url: str) -> BaseDatabaseWrapper:
    """A connection like that of the tests, to another database."""
    empty = connections[DEFAULT_DB_ALIAS]
    other = empty.copy(alias=DEFAULT_DB_ALIAS)
    other.settings_dict = {**empty.settings_dict, "NAME": environ.Env.db_url_config(url)["NAME"]}
    return other


@contextmanager
def standing_in(database: BaseDatabaseWrapper) -> Iterator[None]:
    """Puts the database in the place of the empty one of the tests."""
    usual = connections[DEFAULT_DB_ALIAS]
    connections[DEFAULT_DB_ALIAS] = database
    try:
        yield
    finally:
        connections[DEFAULT_DB_ALIAS] = usual


class FilledOnce(Protocol):
    def __call__(self, name: str, fill: Callable[[], None], *, on_the_month: bool = False) -> BaseDatabaseWrapper: ...


def filled_database(name: str, fill: Callable[[], None], django_db_blocker, *, on_the_month: bool = False) -> str:
    """Makes a database by what `fill` writes in books of 2027, or on top of the sample month; gives its address."""
    from distillery.clock.reading import let_go
    from distillery.clock.setting import days_until, set_clock

    url = Databases(shared_folder(), name).copy_of(demonstrated() if on_the_month else migrated())
    with django_db_blocker.unblock(), standing_in(beside(url)):
        let_go()
        if not on_the_month:
            set_clock(days_until(BOOKS_STAND_AT), why="tests write of 2027")
        fill()
        connections[DEFAULT_DB_ALIAS].close()
        let_go()
    return url
