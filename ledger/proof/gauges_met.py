"""Proves that the book meets every gauge that stands: what `posting.writing` keeps, asked again of the whole ledger.

Just after a gauge that stands, the book of its account, all entries taken in their true places, equals what was
measured. So whoever makes earlier amounts other than they were, with every sum, link and seal reworked to match,
still disagrees with the readings that were taken afterwards.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.db import connection

from ledger.periods.places import CARRIED

# Legs and gauges in one order. A gauge comes after the legs of its own place: they are what it found, and its
# restatements.
_MET = f"""
SELECT code, name, movement_id, pure_ul, mass_g, book_ul, book_g FROM (
  SELECT account_id, gauge_id, pure_ul, mass_g,
         SUM(leg_ul) OVER w AS book_ul, SUM(leg_g) OVER w AS book_g
    FROM (
      SELECT l.account_id, COALESCE(m.true_at, l.happened_at) AS "at",
             CASE WHEN m.true_at IS NULL THEN l.position ELSE l.position + {CARRIED} END AS place,
             0 AS is_gauge, CAST(NULL AS bigint) AS gauge_id,
             l.pure_ul AS leg_ul, l.mass_g AS leg_g, 0 AS pure_ul, 0 AS mass_g
        FROM ledger_leg l JOIN ledger_movement m ON m.id = l.movement_id
       WHERE l.account_id IN (%(accounts)s)
      UNION ALL
      SELECT g.account_id, g.happened_at, g.position, 1, g.id, 0, 0, g.pure_ul, g.mass_g
        FROM ledger_measurement g
       WHERE g.giver_id IS NULL AND g.account_id IN (%(accounts)s)
         AND NOT EXISTS (SELECT 1 FROM ledger_movement c WHERE c.corrects_id = g.movement_id)
    ) placed
  WINDOW w AS (PARTITION BY account_id ORDER BY "at", place, is_gauge)
) met
JOIN (SELECT g.id, g.name, g.movement_id, a.code FROM ledger_measurement g
        JOIN ledger_account a ON a.id = g.account_id) said
  ON said.id = met.gauge_id
WHERE pure_ul <> book_ul OR mass_g <> book_g
ORDER BY movement_id, gauge_id
"""
_GAUGED = "SELECT account_id FROM ledger_measurement WHERE giver_id IS NULL"
# Accounts with a leg that is carried later than it happened: their true order is not that of the running balances.
_CARRIED = (
    "SELECT l.account_id FROM ledger_movement m JOIN ledger_leg l ON l.movement_id = m.id WHERE m.true_at IS NOT NULL"
)
# Where nothing is carried, the book just after a gauge is the running balance up to its place.
_APART_FROM_RUNNING = """
SELECT %(columns)s FROM ledger_measurement g
  LEFT JOIN ledger_runningbalance r ON r.leg_id = (
       SELECT b.leg_id FROM ledger_runningbalance b
        WHERE b.account_id = g.account_id AND (b.happened_at, b.position) <= (g.happened_at, g.position)
        ORDER BY b.happened_at DESC, b.position DESC, b.leg_id DESC LIMIT 1)
 WHERE g.giver_id IS NULL AND g.account_id IS NOT NULL AND %(since)s
   AND (COALESCE(r.balance_ul, 0) <> g.pure_ul OR COALESCE(r.mass_g, 0) <> g.mass_g)
   AND NOT EXISTS (SELECT 1 FROM ledger_movement c WHERE c.corrects_id = g.movement_id)
"""


def prove_gauges_met(*, by_running: bool = False) -> Iterator[str]:
    """One sentence for each gauge that stands and that the book of its account does not meet; µL and g.

    `by_running` where the running balances are proved: then only accounts with something carried, or with a gauge
    that its running balance does not meet, are added up again from their legs.
    """
    accounts = _GAUGED
    with connection.cursor() as cursor:
        if by_running:
            gauges = {"columns": "g.account_id", "since": f"g.account_id NOT IN ({_CARRIED})"}
            cursor.execute(f"{_APART_FROM_RUNNING % gauges} UNION {_CARRIED}")
            asked = [row[0] for row in cursor.fetchall()]
            if not asked:
                return
            accounts = ", ".join(map(str, asked))
        cursor.execute(_MET % {"accounts": accounts})
        for row in cursor.fetchall():
            yield _said(*row)


def gauges_met_since(first: int, ends: Any) -> Iterator[str]:
    """The same of gauges that lie after the end of a closing, among the movements from one on.

    The running balances after it must be proved. What is carried stands before all that happened after the closing,
    so there the running balance is the book in true order.
    """
    columns = (
        "(SELECT code FROM ledger_account a WHERE a.id = g.account_id), g.name, g.movement_id, g.pure_ul, g.mass_g,"
        " COALESCE(r.balance_ul, 0), COALESCE(r.mass_g, 0)"
    )
    gauges = {"columns": columns, "since": "g.movement_id >= %s AND g.happened_at >= %s"}
    with connection.cursor() as cursor:
        cursor.execute(f"{_APART_FROM_RUNNING % gauges} ORDER BY g.movement_id, g.id", [first, ends])
        for row in cursor.fetchall():
            yield _said(*row)


def _said(code: str, name: str, movement: int, pure_ul: int, mass_g: int, book_ul: int, book_g: int) -> str:
    return (
        f"movement {movement}: the gauge '{name}' measured {pure_ul} µL and {mass_g} g, "
        f"but the book of {code} just after it is {book_ul} µL and {book_g} g"
    )
