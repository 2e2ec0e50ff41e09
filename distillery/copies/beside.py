"""A place beside the books, in which a copy is put back and looked at; afterwards it is gone."""

from __future__ import annotations

import secrets
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

from django.db import DatabaseError
from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.copies.places import first_place
from distillery.management.copies import CopyRefused


@contextmanager
def place_beside(connection: BaseDatabaseWrapper) -> Iterator[str]:
    """DATABASE_URL of an empty database of the same kind, for as long as this lasts. Raises CopyRefused, OSError."""
    if connection.vendor == "sqlite":
        folder = first_place(connection)
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix="trying-", dir=folder, ignore_cleanup_errors=True) as made:
            yield f"sqlite:///{Path(made) / 'tried.sqlite3'}"
        return
    name = f"gaugebook_trying_{secrets.token_hex(6)}"
    try:
        with connection.cursor() as cursor:
            cursor.execute(f"CREATE DATABASE {name} TEMPLATE template0 ENCODING 'UTF8'")
    except DatabaseError as error:
        raise CopyRefused(
            "No database could be made beside the books to try a copy in: "
            f"{str(error).strip().splitlines()[0]}. Let the site's role make databases (ALTER ROLE ... CREATEDB)."
        ) from error
    try:
        yield _url(connection, name)
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


def _url(connection: BaseDatabaseWrapper, name: str) -> str:
    said = connection.settings_dict
    user, password = (quote(str(said.get(one) or ""), safe="") for one in ("USER", "PASSWORD"))
    who = f"{user}{':' + password if password else ''}@" if user else ""
    host, port = said.get("HOST") or "", said.get("PORT") or ""
    return f"postgres://{who}{quote(str(host), safe='')}{f':{port}' if port else ''}/{name}"
