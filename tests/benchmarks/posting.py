"""How fast a movement is posted through the ledger, against the same rows put in by bare SQL.

Run from the root of the repository: `python tests/benchmarks/posting.py [MOVEMENTS]`. It measures SQLite, and in the
same run PostgreSQL where DATABASE_URL names one. Both ways write into one scratch database one movement after another
in turns, a transaction for each, with the triggers standing and what is committed kept as safe as on a site
(synchronous=FULL on SQLite). The bare way is given every leg, gauge and seal ready made, so it is the least a movement
can cost. The ratio of the times that passed (medians, then means) counts; the aim is at least 0.45 on SQLite and 0.65
on PostgreSQL. Processor time of this process stands beside it; on PostgreSQL the server's own work is not in that.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.running_site import Databases, run  # noqa: E402

WARMING_UP = 20
ALONE = "--alone"


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
    through, bare = Times(), Times()
    for number in range(count + WARMING_UP):
        giver, taker = vessels[number % 4], vessels[(number + 1) % 4]
        apart = plant.difference("transfer")
        draft = plant.draft(
            "transfer",
            str(number),
            number / 100,
            plant.found(giver, 500 + number % 7),
            plant.found(taker, 400 + number % 5),
            plant.left(giver, 380 + number % 3, apart),
            plant.left(taker, 519 + number % 11, apart),
        )
        through.take(post, draft, person=person)
        bare.take(_put, _newest_again())
    connection.close()
    print(
        f"{connection.vendor}, {count} movements of 4 gauges each way: service {through.median_ms():.2f} ms, "
        f"bare SQL {bare.median_ms():.2f} ms, ratio {bare.median_ms() / through.median_ms():.2f} "
        f"(of means {bare.mean_ms() / through.mean_ms():.2f}); processor {through.processor_ms():.2f} and "
        f"{bare.processor_ms():.2f} ms, ratio {bare.processor_ms() / through.processor_ms():.2f}"
    )


@dataclass(slots=True)
class Times:
    """How long each movement of one way took: seconds that passed, and seconds of processor."""

    passed: list[float] = field(default_factory=list)
    processor: list[float] = field(default_factory=list)

    def take(self, write: Callable[..., object], *arguments: object, **more: object) -> None:
        started, processor = time.perf_counter(), time.process_time()
        write(*arguments, **more)
        self.passed.append(time.perf_counter() - started)
        self.processor.append(time.process_time() - processor)

    def median_ms(self) -> float:
        return 1000 * statistics.median(self.passed[WARMING_UP:])

    def mean_ms(self) -> float:
        return 1000 * statistics.mean(self.passed[WARMING_UP:])

    def processor_ms(self) -> float:
        return 1000 * statistics.mean(self.processor[WARMING_UP:])


Statement = tuple[str, list[tuple[object, ...]]]


def _newest_again() -> list[Statement]:
    """The rows of the newest movement once more, an instant later and under a new number, as statements."""
    from django.db import connection, models

    from ledger.models import Gauge, Leg, Movement

    def insert(model: type[models.Model], rows: list[models.Model], *, key: bool) -> Statement:
        fields = [field for field in model._meta.concrete_fields if key or not field.primary_key]
        names, marks = ", ".join(field.column for field in fields), ", ".join(["%s"] * len(fields))
        values = [
            tuple(field.get_db_prep_save(getattr(row, field.attname), connection) for field in fields) for row in rows
        ]
        return f"INSERT INTO {model._meta.db_table} ({names}) VALUES ({marks})", values

    movement = Movement.objects.order_by("-pk")[0]
    legs = list(movement.legs.order_by("line"))
    gauges = list(Gauge.objects.filter(movement=movement).order_by("position"))
    movement.pk += 1
    movement.seal = f"{movement.pk:064x}"
    for row in (movement, *legs, *gauges):
        row.happened_at += timedelta(microseconds=1)
    for row in (*legs, *gauges):
        row.movement_id = movement.pk
    head = "UPDATE ledger_head SET last_number = %s, last_seal = %s WHERE id = 1"
    return [
        insert(Leg, legs, key=False),
        insert(Gauge, gauges, key=False),
        insert(Movement, [movement], key=True),
        (head, [(movement.pk, movement.seal)]),
    ]


def _put(statements: list[Statement]) -> None:
    from django.db import connection, transaction

    with transaction.atomic(), connection.cursor() as cursor:
        for sql, values in statements:
            cursor.executemany(sql, values)


def on(server: str, count: str) -> None:
    """Measures on one engine, in a process of its own."""
    given = {**os.environ, "DATABASE_URL": server}
    subprocess.run([sys.executable, __file__, ALONE, count], env=given, check=True)


if __name__ == "__main__":
    words = [one for one in sys.argv[1:] if one != ALONE]
    number = words[0] if words else "400"
    if ALONE not in sys.argv:
        on("", number)
        if os.environ.get("DATABASE_URL", "").startswith("postgres"):
            on(os.environ["DATABASE_URL"], number)
        sys.exit()
    with TemporaryDirectory() as folder:
        databases = Databases(Path(folder))
        try:
            url = databases.new()
            made = run(url, "migrate", "--verbosity", "0")
            if made.returncode:
                sys.exit(made.stderr)
            os.environ.update(DATABASE_URL=url, DJANGO_SETTINGS_MODULE="distillery.settings")
            main(int(number))
        finally:
            databases.close()
