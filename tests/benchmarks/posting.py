"""How fast a movement is posted through the ledger, against the same rows put in by bare SQL.

Run from the root of the repository: `python tests/benchmarks/posting.py [MOVEMENTS]`, with DATABASE_URL for PostgreSQL.
Both ways write into one scratch database in turns, a transaction for each movement, with the triggers standing and what
is committed kept as safe as on a site. The bare way is given every leg, gauge and seal ready made, so it is the least a
movement can cost. The ratio counts; the aim is at least 0.10 on SQLite and 0.15 on PostgreSQL.
"""

from __future__ import annotations

import os
import sys
import time
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.running_site import Databases, run  # noqa: E402

BATCH = 100


def main(count: int) -> None:
    import django

    django.setup()
    from django.db import connection

    from ledger.posting.post import post
    from tests.ledger import plant
    from tests.people import somebody

    person = somebody("ishbel")
    vessels = [plant.vessel(code) for code in ("P", "Q", "R", "S")]
    for vessel in vessels:
        post(plant.opening(vessel, 500), person=person)
    through = bare = 0.0
    done = 0
    while done < count:
        drafts = []
        for turn in range(done, done + BATCH):
            giver, taker = vessels[turn % 4], vessels[(turn + 1) % 4]
            apart = plant.difference("transfer")
            drafts.append(
                plant.draft(
                    "transfer",
                    str(turn),
                    turn / 100,
                    plant.found(giver, 500 + turn % 7),
                    plant.found(taker, 400 + turn % 5),
                    plant.left(giver, 380 + turn % 3, apart),
                    plant.left(taker, 519 + turn % 11, apart),
                )
            )
        started = time.perf_counter()
        for draft in drafts:
            post(draft, person=person)
        through += time.perf_counter() - started
        rows = _rows_again(BATCH)
        started = time.perf_counter()
        for statements in rows:
            _put(statements)
        bare += time.perf_counter() - started
        done += BATCH
    connection.close()
    print(
        f"{connection.vendor}, {done} movements of 4 gauges each way: service {done / through:,.0f} a second, "
        f"bare SQL {done / bare:,.0f} a second, ratio {bare / through:.2f}"
    )


Statement = tuple[str, list[tuple[object, ...]]]


def _rows_again(count: int) -> list[list[Statement]]:
    """The rows of the newest movements once more, an instant later and under new numbers, as statements."""
    from django.db import connection, models

    from ledger.models import Gauge, Leg, Movement

    def insert(model: type[models.Model], rows: list[models.Model], *, key: bool) -> Statement:
        fields = [field for field in model._meta.concrete_fields if key or not field.primary_key]
        names, marks = ", ".join(field.column for field in fields), ", ".join(["%s"] * len(fields))
        values = [
            tuple(field.get_db_prep_save(getattr(row, field.attname), connection) for field in fields) for row in rows
        ]
        return f"INSERT INTO {model._meta.db_table} ({names}) VALUES ({marks})", values

    again = []
    for movement in list(Movement.objects.order_by("-pk")[:count])[::-1]:
        legs = list(movement.legs.order_by("line"))
        gauges = list(Gauge.objects.filter(movement=movement).order_by("position"))
        movement.pk += count
        movement.seal = f"{movement.pk:064x}"
        for row in (movement, *legs, *gauges):
            row.happened_at += timedelta(microseconds=count)
        for row in (*legs, *gauges):
            row.movement_id = movement.pk
        head = "UPDATE ledger_head SET last_number = %s, last_seal = %s WHERE id = 1"
        again.append(
            [
                insert(Leg, legs, key=False),
                insert(Gauge, gauges, key=False),
                insert(Movement, [movement], key=True),
                (head, [(movement.pk, movement.seal)]),
            ]
        )
    return again


def _put(statements: list[Statement]) -> None:
    from django.db import connection, transaction

    with transaction.atomic(), connection.cursor() as cursor:
        for sql, values in statements:
            cursor.executemany(sql, values)


if __name__ == "__main__":
    with TemporaryDirectory() as folder:
        databases = Databases(Path(folder))
        try:
            url = databases.new()
            made = run(url, "migrate", "--verbosity", "0")
            if made.returncode:
                sys.exit(made.stderr)
            os.environ.update(DATABASE_URL=url, DJANGO_SETTINGS_MODULE="distillery.settings")
            main(int(sys.argv[1]) if len(sys.argv) > 1 else 400)
        finally:
            databases.close()
