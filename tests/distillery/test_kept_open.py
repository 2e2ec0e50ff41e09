"""A connection stays open between requests, but never to a file that another was put in the place of."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.core.signals import request_started
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.base.base import BaseDatabaseWrapper

pytestmark = [pytest.mark.sqlite, pytest.mark.django_db]


@pytest.fixture
def opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[BaseDatabaseWrapper]:
    """A connection of its own to a file that says 'old', in the place of the site's while a request begins."""
    import environ
    from django.db.backends.sqlite3.base import DatabaseWrapper

    file = _database(tmp_path / "site.sqlite3", "old")
    there = connections[DEFAULT_DB_ALIAS]
    url = environ.Env.db_url_config(f"sqlite:///{file}")
    connection = DatabaseWrapper({**there.settings_dict, **url, "CONN_MAX_AGE": None}, DEFAULT_DB_ALIAS)
    monkeypatch.setattr("distillery.database.kept_open.connections", {DEFAULT_DB_ALIAS: connection})
    connection.inc_thread_sharing()
    try:
        yield connection
    finally:
        connection.close()


def _database(file: Path, says: str) -> Path:
    with sqlite3.connect(file) as made:
        made.execute("CREATE TABLE said (word text)")
        made.execute("INSERT INTO said VALUES (?)", [says])
    made.close()
    return file


def _says(connection: BaseDatabaseWrapper) -> str:
    with connection.cursor() as cursor:
        cursor.execute("SELECT word FROM said")
        return str(cursor.fetchone()[0])


def _put_another_in_its_place(connection: BaseDatabaseWrapper) -> None:
    file = Path(connection.settings_dict["NAME"])
    _database(file.with_name("copy.sqlite3"), "new").replace(file)


def _a_request_begins() -> None:
    from distillery.database import kept_open

    kept_open._look(sender=request_started)


def test_it_stays_open_to_the_same_file(opened: BaseDatabaseWrapper) -> None:
    assert _says(opened) == "old"
    kept = opened.connection
    _a_request_begins()
    assert opened.connection is kept


def test_a_file_put_in_its_place_is_read_from_the_next_request_on(opened: BaseDatabaseWrapper) -> None:
    assert _says(opened) == "old"
    _put_another_in_its_place(opened)
    # Within a request it goes on with what it opened.
    assert _says(opened) == "old"
    _a_request_begins()
    assert _says(opened) == "new"


def test_a_file_that_is_gone_is_let_go_too(opened: BaseDatabaseWrapper) -> None:
    assert _says(opened) == "old"
    Path(opened.settings_dict["NAME"]).unlink()
    _a_request_begins()
    assert opened.connection is None


def test_what_is_under_way_is_not_broken_off(opened: BaseDatabaseWrapper) -> None:
    assert _says(opened) == "old"
    opened.in_atomic_block = True
    _put_another_in_its_place(opened)
    _a_request_begins()
    assert opened.connection is not None
    opened.in_atomic_block = False
    _a_request_begins()
    assert opened.connection is None


def test_every_request_looks(opened: BaseDatabaseWrapper) -> None:
    from distillery.database import kept_open

    assert kept_open._look in {receiver() for _, receiver, *_ in request_started.receivers}
