"""Where the clock of the computer ran back: something written later in the chain says an earlier time.

It breaks no seal and no sum, since the chain goes by number and not by time; but what was written around it cannot be
trusted to the minute, so page and proof say it. Half a minute is let be: a clock that is set right by a time service
may step by so much, and so long writers may once have waited for their turn with the time already taken.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta
from typing import Final

from django.db import connection
from django.utils import timezone

from distillery import figures
from distillery.clock.reading import AHEAD
from distillery.database.fixed_sql import ask
from ledger.models import Movement

LET_BE: Final = timedelta(seconds=30)
# A page looks at the end of the chain only, so that it costs the same however long the chain grows.
ON_A_PAGE: Final = 2000
# Of the newest movements those that say an earlier time than the one before them, and the newest, in order of number.
_OUT_OF_ORDER: Final = """
SELECT before, before_at, id, written_at FROM (
  SELECT id, written_at, LAG(id) OVER (ORDER BY id) AS before, LAG(written_at) OVER (ORDER BY id) AS before_at
  FROM (SELECT id, written_at FROM ledger_movement ORDER BY id DESC LIMIT %s) newest
) beside
WHERE written_at < before_at OR id = (SELECT MAX(id) FROM ledger_movement) ORDER BY id
"""


def ran_back(before: datetime, written: datetime) -> bool:
    """True where what was written after something else says a time before it."""
    return written < before - LET_BE


def places(written: Iterable[tuple[str, datetime]]) -> Iterator[str]:
    """A sentence for each of what was written, named and in its order, that says a time before the one before it."""
    last: tuple[str, datetime] | None = None
    for name, at in written:
        if last is not None and ran_back(last[1], at):
            yield (
                f"{name} was written {_shown(at)}, {last[0]} before it {_shown(last[1])}: "
                f"the clock ran back by {figures.span(last[1] - at)}"
            )
        last = name, at


def in_the_chain(after: int = 0) -> Iterator[str]:
    """Every place in the chain of movements, or in what follows a movement; the database reads all of it."""
    with connection.cursor() as cursor:
        # Hardly ever is anything written at an earlier time than what was written before it; those few are judged here.
        cursor.execute(
            "SELECT number, before FROM (SELECT id AS number, written_at, LAG(id) OVER w AS before,"
            " LAG(written_at) OVER w AS written_before FROM ledger_movement WHERE id >= %s WINDOW w AS (ORDER BY id)) p"
            " WHERE written_at < written_before ORDER BY number",
            [after],
        )
        pairs = cursor.fetchall()
    written = Movement.objects.values_list("pk", "written_at").order_by("pk")
    for pair in pairs:
        yield from places((f"movement {pk}", at) for pk, at in written.filter(pk__in=pair))
    yield from _now_behind(*Movement.objects.order_by("-pk").values_list("pk", "written_at")[:1])


def lately() -> list[str]:
    """The places among the newest movements. One query; the database passes over what came in its order."""
    found: list[str] = []
    newest: list[tuple[int, datetime]] = []
    for before, before_at, number, written_at in ask(_OUT_OF_ORDER, [ON_A_PAGE]):
        newest = [(number, _moment(written_at))]
        if before is not None:
            found += places([(f"movement {before}", _moment(before_at)), (f"movement {number}", _moment(written_at))])
    return [*found, *_now_behind(*newest)]


def _moment(at: datetime | str) -> datetime:
    """SQLite gives a moment in UTC without saying so, and as text where it is worked out."""
    read = datetime.fromisoformat(at) if isinstance(at, str) else at
    return read if read.tzinfo is not None else read.replace(tzinfo=UTC)


def _now_behind(*newest: tuple[int, datetime]) -> Iterator[str]:
    """Whether this computer's clock stands before what was written last."""
    now = timezone.now()
    for pk, at in newest:
        if at > now + AHEAD:
            yield (
                f"movement {pk} was written {_shown(at)}, and the clock of this computer says {_shown(now)}: "
                "set it right before anything more is written"
            )


def _shown(moment: datetime) -> str:
    return figures.moment(moment, year=True)
