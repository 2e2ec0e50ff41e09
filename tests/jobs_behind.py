"""The jobs of a scratch database, seen and asked for behind the program's back while processes of its own do them."""

from __future__ import annotations

import json
import secrets
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from typing import Any

from tests.running_site import sqlite_file

LONGEST_S = 60
NOW = "2027-05-01 12:00:00+00:00"


class Jobs:
    """The jobs of a scratch database, seen and asked for behind the program's back."""

    def __init__(self, url: str) -> None:
        self.url = url

    def ask(self, kind: str, arguments: dict[str, Any], **more: Any) -> int:
        """Puts a job into the books as a page would, or as `more` says; gives its number."""
        columns: dict[str, Any] = {
            **{"kind": kind, "arguments": json.dumps(arguments), "asked_at": NOW, "state": "waiting", "run": 0},
            **{"broken_off": 0, "machine": "", "said": "", "done": 0, "total": 0, "fault": ""},
            **{"file": secrets.token_hex(16), "file_name": "", "file_bytes": 0},
            **more,
        }
        names, places = ", ".join(columns), ", ".join(["%s"] * len(columns))
        [(number,)] = self.tell(
            f"INSERT INTO jobs_job ({names}) VALUES ({places}) RETURNING id", list(columns.values())
        )
        return int(number)

    def row(self, number: int) -> dict[str, Any]:
        """How a job stands."""
        names = ("state", "run", "broken_off", "done", "file", "file_name", "process", "fault")
        [row] = self.tell(f"SELECT {', '.join(names)} FROM jobs_job WHERE id = %s", [number])
        return dict(zip(names, row, strict=True))

    def wait(self, number: int, until: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
        """How a job stands as soon as it stands as it should. Raises AssertionError after a minute."""
        deadline = time.monotonic() + LONGEST_S
        while time.monotonic() < deadline:
            row = self.row(number)
            if until(row):
                return row
            time.sleep(0.02)
        raise AssertionError(f"It did not come to that: {row}")

    def tell(self, statement: str, values: list[Any]) -> list[tuple[Any, ...]]:
        """Says something to the database, with `%s` for each value; gives the rows it answers."""
        if self.url.startswith("sqlite"):
            with closing(sqlite3.connect(sqlite_file(self.url), timeout=20)) as database, database:
                return database.execute(statement.replace("%s", "?"), values).fetchall()
        import psycopg

        with psycopg.connect(self.url, autocommit=True) as server:
            return server.execute(statement, values).fetchall()
