"""The trail as a chain: each entry as one line, each digest over the one before and that line.

Read with a plain cursor in the order of the entries, a batch in memory at a time. An entry's line is a JSON list of
its number, table, row, act, time and content.
"""

from __future__ import annotations

from collections.abc import Iterator
from json.encoder import encode_basestring_ascii as quoted
from typing import Any

from django.db import connection

from distillery.hashing import moment_text, seal

BATCH = 5000
_COLUMNS = ("id", "table", "row", "act", "at", "content")


def entries(*, after: int = 0, upto: int | None = None) -> Iterator[tuple[Any, ...]]:
    """Rows of the trail: number, table, row, act, time as text, content."""
    quote = connection.ops.quote_name
    # Text as it is kept is nearer to what is sealed than the object SQLite's module would make of it.
    as_kept = " || ''" if connection.vendor == "sqlite" else ""
    names = ", ".join(quote(name) + (as_kept if name == "at" else "") for name in _COLUMNS)
    bound = "" if upto is None else f"AND id <= {upto:d} "
    with connection.cursor() as cursor:
        while True:
            cursor.execute(f"SELECT {names} FROM trail_entry WHERE id > %s {bound}ORDER BY id LIMIT {BATCH}", [after])
            rows = cursor.fetchall()
            for number, table, row, act, at, content in rows:
                yield number, table, row, act, moment_text(at), content
            if len(rows) < BATCH:
                return
            after = rows[-1][0]


def chained(digest: str, entry: tuple[Any, ...]) -> str:
    """The digest after one more entry. Its line is a list of a number and five texts."""
    number, table, row, act, at, content = entry
    line = f"[{number},{quoted(table)},{quoted(row)},{quoted(act)},{quoted(at)},{quoted(content)}]"
    return seal(digest, line)
