"""How anything is written down before it is hashed, and the digest that binds it to what was hashed before.

All digests are SHA-256 (FIPS 180-4), written as 64 small hexadecimal figures.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any, Final

from django.utils.dateparse import parse_datetime

FIRST_SEAL: Final = "0" * 64
# Made once: `json.dumps` would make one for every line.
_WRITER: Final = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False)


def canonical(data: object) -> str:
    """One line of JSON that is always the same for the same data."""
    return _WRITER.encode(data)


def seal(previous: str, content: str | Mapping[str, Any]) -> str:
    """The digest that closes content, its line or plain data, and binds it to what was sealed before."""
    line = content if isinstance(content, str) else canonical(content)
    return hashlib.sha256(f"{previous}\n{line}".encode("ascii")).hexdigest()


def utc(moment: datetime) -> str:
    """A moment as text that both engines and an outsider write alike."""
    return f"{moment.astimezone(UTC).isoformat(timespec='microseconds')[:26]}Z"


def moment_text(value: datetime | str) -> str:
    """A moment as either engine gives it: SQLite keeps it as text in UTC, microseconds only where there are any.

    A text that is written as this writes it stays as it is.

    Raises ValueError for a text that is no moment.
    """
    if isinstance(value, str):
        if len(value) == 19 and value[10] == " ":
            return f"{value[:10]}T{value[11:]}.000000Z"
        if len(value) == 26 and value[10] == " " and value[19] == ".":
            return f"{value[:10]}T{value[11:]}Z"
        if len(value) == 27 and value[10] == "T" and value[26] == "Z":
            return value
        read = parse_datetime(value)
        if read is None:
            raise ValueError(f"{value} is no moment")
        value = read
    return utc(value if value.tzinfo else value.replace(tzinfo=UTC))
