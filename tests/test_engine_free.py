"""What `.ci/run` does not repeat on PostgreSQL really opens no database, whichever way a test tries it."""

from __future__ import annotations

import sqlite3
import subprocess
from collections.abc import Callable

import psycopg
import pytest
from django.db import connection

from tests.engine_free import PLACES, OpensADatabase, forbid, is_engine_free
from tests.running_site import MANAGE


@pytest.mark.parametrize(
    "opens",
    [
        lambda: connection.ensure_connection(),
        lambda: connection.cursor(),
        lambda: sqlite3.connect(":memory:"),
        lambda: psycopg.connect("postgres://nobody@127.0.0.1:1/nothing"),
    ],
    ids=["Django's connection", "a cursor", "SQLite by itself", "PostgreSQL by itself"],
)
@pytest.mark.django_db
def test_every_way_to_a_database_is_shut(opens: Callable[[], object], monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as shut:
        forbid(shut)
        with pytest.raises(OpensADatabase):
            opens()


def test_a_command_that_is_started_finds_none(monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as shut:
        forbid(shut)
        ended = subprocess.run([*MANAGE, "verify_ledger"], capture_output=True, text=True, timeout=60, check=False)
    assert ended.returncode == 1
    assert "DATABASE_URL" in ended.stderr


def test_every_place_is_there_and_its_tests_are_marked(request: pytest.FixtureRequest) -> None:
    assert all(place.exists() for place in PLACES)
    for item in request.session.items:
        assert (item.get_closest_marker("engine_free") is not None) == is_engine_free(item.path), item.nodeid
        assert "_engine_free" in item.fixturenames
