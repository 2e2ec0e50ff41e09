"""A place beside the books, in which a copy is put back and looked at; afterwards it is gone.

On PostgreSQL it is a database of its own, made for it. Where the site's role may not make databases, the site names an
empty one in COPIES_TRIED_IN, which is found empty before and left empty.
"""

from __future__ import annotations

import secrets
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final
from urllib.parse import quote

from django.conf import settings
from django.db import DatabaseError
from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.copies.places import first_place
from distillery.management.copies import CopyRefused

if TYPE_CHECKING:
    from psycopg import Connection

WHAT_TO_DO: Final = (
    "Let the site's role make databases (ALTER ROLE ... CREATEDB), or name an empty database of its own in "
    "COPIES_TRIED_IN."
)
# Held while a copy is tried in the named database; any number will do.
TRYING_LOCK: Final = 7_284_502
_ANY_TABLE: Final = (
    "SELECT tablename FROM pg_tables WHERE schemaname NOT IN ('pg_catalog', 'information_schema') LIMIT 1"
)
# What a copy brings: tables with their sequences, and the functions of its triggers. DROP OWNED would also take away
# what the role was granted on the site's own database.
_EMPTIED: Final = """
DO $$ DECLARE told text; BEGIN
FOR told IN SELECT format('DROP TABLE IF EXISTS %I CASCADE', tablename) FROM pg_tables WHERE schemaname = 'public'
UNION ALL SELECT format('DROP FUNCTION IF EXISTS %s CASCADE', oid::regprocedure) FROM pg_proc
WHERE pronamespace = 'public'::regnamespace AND proowner = current_user::regrole
LOOP EXECUTE told; END LOOP; END $$
"""


@contextmanager
def place_beside(connection: BaseDatabaseWrapper) -> Iterator[str]:
    """DATABASE_URL of an empty database of the same kind, for as long as this lasts. Raises CopyRefused, OSError."""
    if connection.vendor == "sqlite":
        folder = first_place(connection)
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix="trying-", dir=folder, ignore_cleanup_errors=True) as made:
            yield f"sqlite:///{Path(made) / 'tried.sqlite3'}"
        return
    if settings.COPIES_TRIED_IN:
        with _named_by_the_site(settings.COPIES_TRIED_IN) as url:
            yield url
        return
    name = f"gaugebook_trying_{secrets.token_hex(6)}"
    try:
        with connection.cursor() as cursor:
            cursor.execute(f"CREATE DATABASE {name} TEMPLATE template0 ENCODING 'UTF8'")
    except DatabaseError as error:
        raise CopyRefused(
            f"No database could be made beside the books to try a copy in: {_first_line(error)}. {WHAT_TO_DO}"
        ) from error
    try:
        yield _url(connection, name)
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


def hindered(connection: BaseDatabaseWrapper) -> str:
    """Why no copy can be tried beside the books, in a sentence that says what to do; blank where one can.

    Whether a database that the site has named is empty is asked when a copy is put into it.
    """
    if connection.vendor != "postgresql" or settings.COPIES_TRIED_IN:
        return ""
    with connection.cursor() as cursor:
        cursor.execute("SELECT rolcreatedb OR rolsuper FROM pg_roles WHERE rolname = current_user")
        row = cursor.fetchone()
    if row is not None and row[0]:
        return ""
    return (
        "The role of this database may not make databases, so no copy can be tried beside the books: a drill, and the "
        f"next version of the program, will refuse. {WHAT_TO_DO}"
    )


@contextmanager
def _named_by_the_site(url: str) -> Iterator[str]:
    import psycopg

    try:
        other = psycopg.connect(url, autocommit=True)
    except psycopg.Error as error:
        raise CopyRefused(f"The database in COPIES_TRIED_IN cannot be opened: {_first_line(error)}.") from error
    with other:
        _is_free(other)
        try:
            yield url
        finally:
            other.execute(_EMPTIED)


def _is_free(other: Connection) -> None:
    held = other.execute("SELECT pg_try_advisory_lock(%s)", [TRYING_LOCK]).fetchone()
    if held is None or not held[0]:
        raise CopyRefused("A copy is being tried in the database in COPIES_TRIED_IN already. Wait until that is done.")
    table = other.execute(_ANY_TABLE).fetchone()
    if table is not None:
        raise CopyRefused(
            f"The database in COPIES_TRIED_IN is not empty (it has a table {table[0]}). Name one that is used for "
            "nothing else; if a try was broken off in it, drop it and make it anew."
        )


def _first_line(error: Exception) -> str:
    return str(error).strip().splitlines()[0]


def _url(connection: BaseDatabaseWrapper, name: str) -> str:
    said = connection.settings_dict
    user, password = (quote(str(said.get(one) or ""), safe="") for one in ("USER", "PASSWORD"))
    who = f"{user}{':' + password if password else ''}@" if user else ""
    host, port = said.get("HOST") or "", said.get("PORT") or ""
    return f"postgres://{who}{quote(str(host), safe='')}{f':{port}' if port else ''}/{name}"
