"""Proves that the book meets every gauge that stands: what `posting.writing` keeps, asked again of the whole ledger.

Just after a gauge that stands, the book of its account, all entries taken in their true places, equals what was
measured. So whoever makes earlier amounts other than they were, with every sum, link and seal reworked to match,
still disagrees with the readings that were taken afterwards.
"""

from __future__ import annotations

from collections.abc import Iterator

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
       WHERE l.account_id IN (SELECT account_id FROM ledger_measurement WHERE giver_id IS NULL)
      UNION ALL
      SELECT g.account_id, g.happened_at, g.position, 1, g.id, 0, 0, g.pure_ul, g.mass_g
        FROM ledger_measurement g
       WHERE g.giver_id IS NULL
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


def prove_gauges_met() -> Iterator[str]:
    """One sentence for each gauge that stands and that the book of its account does not meet; µL and g."""
    with connection.cursor() as cursor:
        cursor.execute(_MET)
        for code, name, movement, pure_ul, mass_g, book_ul, book_g in cursor.fetchall():
            yield (
                f"movement {movement}: the gauge '{name}' measured {pure_ul} µL and {mass_g} g, "
                f"but the book of {code} just after it is {book_ul} µL and {book_g} g"
            )
