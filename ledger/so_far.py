"""How far the books are written: what was worked out from them holds while this stays as it is."""

from __future__ import annotations

from typing import Final

from distillery.database.fixed_sql import ask

# Their last seal, and the last entry of the trail, which may be newer inside a turn.
_SO_FAR: Final = """
SELECT last_seal, (SELECT MAX(id) FROM trail_entry), (SELECT seal FROM seals_booksseal ORDER BY number DESC LIMIT 1)
FROM ledger_head
"""


def posted_so_far() -> object:
    """The seal of the last movement alone, for what hangs on nothing but movements; one question."""
    return next(iter(so_far()), None)


def so_far() -> tuple[object, ...]:
    """The seals at the end of the books and the last entry of the trail; one question."""
    rows = ask(_SO_FAR)
    return tuple(rows[0]) if rows else ()
