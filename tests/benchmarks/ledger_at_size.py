"""Whether reading slows down as the ledger grows, and what a whole proof costs against adding up alone.

Run from the root of the repository: `python tests/benchmarks/ledger_at_size.py [SMALLER LARGER]` (movements; 2,000
and 20,000 if left out), with DATABASE_URL for PostgreSQL. One scratch database is grown to the smaller size, timed, grown to
the larger and timed again: transfers between twelve vessels, spread over thirty-six months at either size. The ratio of
the medians counts; the aim is at most 1.3 for reading. A bare re-sum reads every leg, gauge and movement from the
database and adds each account up in the order of time, and does nothing else; the aim of the proof is at most 2 times.
The export is timed at the larger size, with the most memory the process has held.
"""

from __future__ import annotations

import os
import random
import statistics
import sys
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.running_site import Databases, run  # noqa: E402

VESSELS = 12
MONTHS = 36
ROUNDS = 15
TOGETHER = 500


def grow(upto: int) -> None:
    """Movements as posting would have written them, sealed, put in together so that it takes seconds."""
    from django.db import transaction
    from django.utils import timezone

    from distillery.people.models import Person
    from ledger.accounts import open_accounts, vessel_account
    from ledger.models import Gauge, Head, Leg, Movement
    from ledger.posting import post
    from ledger.sealing import content, seal
    from ledger.writing import period_of
    from tests.ledger import plant

    person = Person.objects.get_or_create(username="ishbel")[0]
    refs = [vessel_account(plant.vessel(f"V{number:02}")) for number in range(VESSELS)]
    accounts = list(open_accounts(refs).values())
    people, named = {person.pk: person.username}, _named(content, accounts)
    head = Head.objects.get(pk=1)
    if not head.last_number:
        for account in accounts:
            post(plant.opening(account.vessel, 1_000_000), person=person)
        head.refresh_from_db()
    dice, now = random.Random(head.last_number), timezone.now()
    while head.last_number < upto:
        movements, all_legs, all_gauges = [], [], []
        for number in range(head.last_number + 1, min(head.last_number + TOGETHER, upto) + 1):
            happened = plant.START + timedelta(minutes=dice.randrange(MONTHS * 30 * 1440))
            movement = Movement(
                id=number, kind="operation", operation="transfer", happened_at=happened, written_at=now,
                period=period_of(happened), person=person, record_kind="transfer", record_number=str(number),
                slot=number, previous_seal=head.last_seal,
            )  # fmt: skip
            giver, taker = dice.sample(accounts, 2)
            pure, mass, place = dice.randrange(1, 9_000_000), dice.randrange(1, 9000), number * 4096
            common = {"movement_id": number, "happened_at": happened}
            legs = [
                Leg(line=1, position=place, account=giver, other=taker, stage=giver.stage, entry="flow",
                    period=movement.period, pure_ul=-pure, mass_g=-mass, **common),
                Leg(line=2, position=place, account=taker, other=giver, stage=taker.stage, entry="flow",
                    period=movement.period, pure_ul=pure, mass_g=mass, **common),
            ]  # fmt: skip
            gauges = [
                Gauge(account=giver, name="from_before", role="before", method="dip", position=place, pure_ul=pure,
                      mass_g=mass, litres20_ul=2 * pure, percent20_millionths=50_000_000, uncertainty_ul=500_000,
                      book_ul=0, rule="OIML R 22", raw='{"dip_mm":"1"}', **common),
            ]  # fmt: skip
            movement.seal = seal(head.last_seal, content(movement, legs, gauges, [], people=people, **named))
            head.last_number, head.last_seal = number, movement.seal
            movements.append(movement)
            all_legs += legs
            all_gauges += gauges
        # In the order of time, as most of a site's entries come.
        all_legs.sort(key=lambda leg: (leg.happened_at, leg.position))
        with transaction.atomic():
            Leg.objects.bulk_create(all_legs)
            Gauge.objects.bulk_create(all_gauges)
            Movement.objects.bulk_create(movements)
            head.save()


def _named(content: Callable[..., Any], accounts: list[Any]) -> dict[str, Any]:
    by_key = {account.pk: account for account in accounts}
    if "accounts" in content.__annotations__:
        return {"accounts": by_key}
    return {"account_codes": {pk: account.code for pk, account in by_key.items()}}


def bare_sum() -> None:
    from django.db import connection

    with connection.cursor() as cursor:
        for table in ("ledger_gauge", "ledger_movement"):
            cursor.execute(f"SELECT * FROM {table}")
            while cursor.fetchmany(5000):
                pass
        cursor.execute(
            "SELECT account_id, pure_ul, mass_g FROM ledger_leg ORDER BY account_id, happened_at, position, id"
        )
        account, pure, mass = 0, 0, 0
        while rows := cursor.fetchmany(5000):
            for owner, leg_pure, leg_mass in rows:
                if owner != account:
                    account, pure, mass = owner, 0, 0
                pure += leg_pure
                mass += leg_mass


def median(what: Callable[[], object], rounds: int = ROUNDS) -> float:
    times = []
    for _ in range(rounds):
        started = time.perf_counter()
        what()
        times.append(time.perf_counter() - started)
    return statistics.median(times)


def main(smaller: int, larger: int) -> None:
    import django

    django.setup()
    from django.db import connection

    from ledger.exporting import export
    from ledger.models import Account
    from ledger.month import bounds, month_account
    from ledger.proving import prove
    from ledger.statements import account_page, holding_now

    taken: dict[str, list[float]] = {}
    since, until = bounds("2028-06")
    for size in (smaller, larger):
        grow(size)
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("ANALYZE")
        account = Account.objects.get(code="vessel:V03")
        for name, what in {
            "balance": lambda account=account: holding_now(account),
            "page of a vessel's account": lambda account=account: account_page(account, since=since, until=until),
            "month's account": lambda: month_account("2028-06"),
        }.items():
            what()
            taken.setdefault(name, []).append(median(what))
    print(f"{connection.vendor}, {smaller:,} and {larger:,} movements")
    for name, (small, large) in taken.items():
        print(f"  {name}: {small * 1000:.2f} ms and {large * 1000:.2f} ms, ratio {large / small:.2f}")
    proof, bare = median(prove, 1), median(bare_sum, 3)
    print(f"  whole proof {proof:.2f} s, bare re-sum {bare:.2f} s, ratio {proof / bare:.2f}; holds: {prove().holds}")
    with TemporaryDirectory() as folder:
        exported = median(lambda: export(Path(folder) / "export"), 1)
    print(f"  export {exported:.2f} s, ratio to the re-sum {exported / bare:.2f}{_memory()}")
    connection.close()


def _memory() -> str:
    try:
        import resource
    except ImportError:
        return ""
    return f"; most memory held {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB"


if __name__ == "__main__":
    sizes = [int(argument) for argument in sys.argv[1:3]] or [2_000, 20_000]
    with TemporaryDirectory() as folder:
        databases = Databases(Path(folder))
        try:
            url = databases.new()
            made = run(url, "migrate", "--verbosity", "0")
            if made.returncode:
                sys.exit(made.stderr)
            os.environ.update(DATABASE_URL=url, DJANGO_SETTINGS_MODULE="distillery.settings")
            main(*sizes)
        finally:
            databases.close()
