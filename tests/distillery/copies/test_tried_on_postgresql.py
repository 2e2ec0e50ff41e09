"""Copies tried on PostgreSQL by a role that may make no databases: said in words, and done in one it was given."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import pytest

from tests.distillery.copies.test_copies_by_server import BEFORE, COPY, DRILL, shell
from tests.running_site import Databases, execute, run

pytestmark = pytest.mark.postgresql
ROLE = "plain_role_of_tests"
TABLES = "SELECT COUNT(*) FROM pg_tables WHERE schemaname = 'public'"
FUNCTIONS = "SELECT COUNT(*) FROM pg_proc WHERE pronamespace = 'public'::regnamespace"


def _as_role(url: str) -> str:
    parts = urlsplit(url)
    where = parts.netloc.rpartition("@")[2]
    return urlunsplit(parts._replace(netloc=f"{ROLE}:of-tests-only@{where}"))


@pytest.fixture
def two(databases: Databases) -> Iterator[tuple[str, str]]:
    """DATABASE_URL of two empty databases of a role that may make none, as that role."""
    made = databases.new(), databases.new()
    names = [urlsplit(url).path.lstrip("/") for url in made]
    execute(databases.server, f"DROP ROLE IF EXISTS {ROLE}", f"CREATE ROLE {ROLE} LOGIN PASSWORD 'of-tests-only'")
    execute(databases.server, *(f"ALTER DATABASE {name} OWNER TO {ROLE}" for name in names))
    yield _as_role(made[0]), _as_role(made[1])
    for url in made:
        databases.drop(url)
    execute(databases.server, f"DROP ROLE {ROLE}")


def _said(url: str, question: str) -> int:
    import psycopg

    with psycopg.connect(url) as server:
        row = server.execute(question).fetchone()
    assert row is not None
    return int(row[0])


def test_a_role_that_may_make_no_database_tries_copies_in_the_one_it_was_given(
    two: tuple[str, str], tmp_path: Path
) -> None:
    books, empty = two
    first = {"COPIES_FOLDER": str(tmp_path)}
    made = run(books, "migrate", "--no-input")
    assert made.returncode == 0, made.stderr
    assert "may not make databases" in made.stderr
    assert "COPIES_TRIED_IN" in made.stderr

    refused = shell(books, BEFORE + COPY + DRILL, **first)
    assert "failed No database could be made beside the books" in refused.stdout, refused.stdout + refused.stderr
    assert "name an empty database of its own in COPIES_TRIED_IN" in refused.stdout

    # Books are no place to try a copy in, and stay as they are.
    tables = _said(books, TABLES)
    refused = shell(books, DRILL, COPIES_TRIED_IN=books, **first)
    assert "The database in COPIES_TRIED_IN is not empty" in refused.stdout, refused.stdout + refused.stderr
    assert _said(books, TABLES) == tables

    held = shell(books, DRILL, COPIES_TRIED_IN=empty, **first)
    assert "done" in held.stdout, held.stdout + held.stderr
    assert (tmp_path / "drills.jsonl").read_text(encoding="utf-8").count('"held": true') == 1
    assert (_said(empty, TABLES), _said(empty, FUNCTIONS)) == (0, 0)

    quiet = run(books, "check", "--database", "default", COPIES_TRIED_IN=empty)
    assert quiet.returncode == 0, quiet.stderr
    assert "may not make databases" not in quiet.stdout + quiet.stderr
