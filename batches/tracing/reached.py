"""The links that lie behind some records or ahead of them, in order of time: one question each, on both engines.

Only what is reached is read. A link is found by its taker going back, by its giver going forward; both have an index.
Every link into a taker that is reached is there, since a link is a share of all that its taker took.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection, Iterator
from typing import Final

from django.db.models import Q

from batches.models import Link, Record
from batches.tracing.walk import Passing
from distillery.database.fixed_sql import ask, marks
from ledger.models import Leg

# A CROSS JOIN keeps its order on SQLite, which would else begin with all links there are.
_TAKEN: Final = """
SELECT link.giver_id, link.taker_id, link.account_id, link.pure_ul, link.mass_g
FROM reached CROSS JOIN batches_link link WHERE link.taker_id = reached.record
ORDER BY link.happened_at, link.slot, link.id
"""
_BEHIND: Final = f"""
WITH RECURSIVE reached(record) AS (
    SELECT id FROM batches_record WHERE id IN {{starts}}
    UNION
    SELECT link.giver_id FROM reached CROSS JOIN batches_link link WHERE link.taker_id = reached.record
){_TAKEN}"""
_AHEAD: Final = f"""
WITH RECURSIVE reached(record) AS (
    SELECT taker_id FROM batches_link WHERE {{starts}}
    UNION
    SELECT link.taker_id FROM reached CROSS JOIN batches_link link WHERE link.giver_id = reached.record
){_TAKEN}"""


# The last contents kept of an account are what it holds now.
_NOW: Final = """
SELECT now.account_id, now.shares FROM batches_contents now WHERE {among}now.book_ul > 0 AND NOT EXISTS (
    SELECT 1 FROM batches_contents later
    WHERE later.account_id = now.account_id AND (later.happened_at, later.slot) > (now.happened_at, now.slot)
)
"""
# Of so many records the accounts they touched are asked for; of more, what all accounts hold is read.
FEW: Final = 400


def links_behind(records: Collection[int]) -> list[Passing]:
    """Every link into these records, into those that gave to them, and so on back, the oldest first."""
    if not records:
        return []
    return _passings(_BEHIND.format(starts=marks(records)), list(records))


def links_ahead(records: Collection[int]) -> list[Passing]:
    """Every link into whatever took of these records, of what took of that, and so on, the oldest first."""
    if not records:
        return []
    return _passings(_AHEAD.format(starts=f"giver_id IN {marks(records)}"), list(records))


def links_through(account: int) -> list[Passing]:
    """The same of what took from an account."""
    return _passings(_AHEAD.format(starts="account_id = %s"), [account])


def links_into_and_out_of(records: Collection[int]) -> list[tuple[int, int, int]]:
    """Giver, taker and pure alcohol (whole microlitres) of the links on both sides of these records."""
    own = Link.objects.filter(Q(taker__in=records) | Q(giver__in=records))
    return list(own.values_list("giver_id", "taker_id", "pure_ul"))


def contents_now(givers: Collection[int]) -> Iterator[tuple[int, dict[int, int]]]:
    """What every account holds now that some records may have given to, by the record that gave it; whole microlitres.

    Accounts that are empty are left out, and where there are few records those that none of them touched.
    """
    if len(givers) > FEW:
        rows = ask(_NOW.format(among=""))
    else:
        accounts = _touched_by(givers)
        rows = ask(_NOW.format(among=f"now.account_id IN {marks(accounts)} AND "), accounts) if accounts else []
    for account, shares in rows:
        yield account, {int(giver): pure for giver, pure in json.loads(shares).items()}


def _touched_by(records: Collection[int]) -> list[int]:
    """Accounts that movements of these records touched; what a record gave to an account, one of these brought."""
    numbers: dict[str, list[str]] = defaultdict(list)
    for kind, number in Record.objects.filter(pk__in=records).values_list("kind", "number"):
        numbers[kind].append(number)
    touched = Q(pk__in=())
    for kind, some in numbers.items():
        touched |= Q(movement__record_kind=kind, movement__record_number__in=some)
    return sorted(set(Leg.objects.filter(touched).order_by().values_list("account_id", flat=True)))


def _passings(sql: str, values: list[int]) -> list[Passing]:
    return [
        Passing(giver, taker, account, float(mass or pure or 1) if account is None else float(pure), pure)
        for giver, taker, account, pure, mass in ask(sql, values)
    ]
