"""The databases that a test may ask for: empty, migrated, with the sample month, filled once and stood in.

Fixtures, which tests/conftest.py has for every test.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from django.db.backends.base.base import BaseDatabaseWrapper

from tests.made_once import made_once
from tests.ready_databases import (
    SAMPLE_MONTH,
    FilledOnce,
    beside,
    demonstrated,
    filled_database,
    migrated,
    shared_folder,
    standing_in,
)
from tests.running_site import Databases


@pytest.fixture(scope="session")
def databases(tmp_path_factory) -> Iterator[Databases]:
    """Makes empty databases on the engine under test, for commands that run in their own process."""
    made = Databases(tmp_path_factory.mktemp("databases"))
    yield made
    made.close()


@pytest.fixture
def new_database(databases: Databases) -> str:
    """DATABASE_URL of a database with nothing in it."""
    return databases.new()


@pytest.fixture(scope="session")
def demo_database(databases: Databases) -> str:
    """DATABASE_URL of a database that `demo` has filled. To read only: every test of this process shares it.

    It is filled once in the whole run and copied by each of the processes that run tests side by side.
    """
    return databases.copy_of(demonstrated())


@pytest.fixture(scope="session")
def migrated_original() -> str:
    """DATABASE_URL of a database that `migrate` has made once in the whole run. To copy only."""
    return migrated()


@pytest.fixture
def migrated_database(databases: Databases, migrated_original: str) -> str:
    """DATABASE_URL of a database that `migrate` has made, with nothing written in it."""
    return databases.copy_of(migrated_original)


@pytest.fixture(scope="session")
def _bare_database(
    django_db_setup, django_db_blocker, databases: Databases, migrated_original: str
) -> Iterator[BaseDatabaseWrapper]:
    bare = beside(databases.copy_of(migrated_original))
    yield bare
    with django_db_blocker.unblock():
        bare.close()


@pytest.fixture(scope="class")
def bare(_bare_database: BaseDatabaseWrapper) -> Iterator[None]:
    """A site as `migrate` makes it, with nobody in it and no clock of its own."""
    with standing_in(_bare_database):
        yield


@pytest.fixture(scope="session")
def _month_database(
    django_db_setup, django_db_blocker, demo_database: str, databases: Databases
) -> Iterator[BaseDatabaseWrapper]:
    """A second database beside the empty one of the tests, with the sample month in it."""
    month = beside(databases.copy_of(demo_database))
    yield month
    with django_db_blocker.unblock():
        month.close()


# Of class scope, so that it stands before the transaction that every test runs in.
@pytest.fixture(scope="class")
def loaded_month(_month_database) -> Iterator[Path]:
    """The sample month is in the database, with the demonstration's people; gives the folder it was loaded from."""
    with standing_in(_month_database):
        yield SAMPLE_MONTH


@pytest.fixture(scope="session")
def filled_once(django_db_setup, django_db_blocker, databases: Databases) -> Iterator[FilledOnce]:
    """Gives a database in books of 2027 that was filled once in the whole run: filled_once("name", fill).

    `on_the_month`: on top of the sample month, which has a clock of its own, instead of a site with nothing written.
    `fill` runs in the process that comes first; every process gets a copy of its own for tests to stand in.
    """
    opened: list[BaseDatabaseWrapper] = []

    def give(name: str, fill: Callable[[], None], *, on_the_month: bool = False) -> BaseDatabaseWrapper:
        url = made_once(
            shared_folder(), name, lambda: filled_database(name, fill, django_db_blocker, on_the_month=on_the_month)
        )
        opened.append(beside(databases.copy_of(url)))
        return opened[-1]

    yield give
    with django_db_blocker.unblock():
        for database in opened:
            database.close()


@pytest.fixture(scope="session")
def _small_database(filled_once: FilledOnce, tmp_path_factory) -> BaseDatabaseWrapper:
    from tests.batches.small_books import fill

    return filled_once("small_books", lambda: fill(tmp_path_factory.mktemp("small-books")))


@pytest.fixture(scope="class")
def small_books(_small_database: BaseDatabaseWrapper) -> Iterator[None]:
    """A month with one of each kind of row is in the database: corrected, struck, closed, with a stock period."""
    with standing_in(_small_database):
        yield
