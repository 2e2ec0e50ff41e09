"""Whether reading slows down as the ledger grows, and what a whole proof costs against adding up alone.

Run from the root: `python tests/benchmarks/ledger_at_size.py [SMALLER LARGER]` (movements; 2,000 and 20,000 if left
out), with DATABASE_URL for PostgreSQL. A scratch database is filled to each size: transfers between twelve vessels,
spread in order of time over thirty-six months at either size, so that the larger is the busier site. The ratio of the
medians counts; the aim is at most 1.3 for reading. A bare re-sum reads every leg, gauge and movement from the database
and adds each account up in the order of time, and does nothing else; the aim of the proof is at most 2 times. The
export is timed as well, with the most memory the process has held, which includes the filling.
"""

from __future__ import annotations

import json
import os
import random
import statistics
import subprocess
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
            happened = plant.START + timedelta(minutes=number * MONTHS * 30 * 1440 // upto)
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


def measure(size: int) -> dict[str, float]:
    """Fills the database of this process and times each kind of reading, in seconds."""
    import django

    django.setup()
    from django.db import connection

    from ledger.exporting import export
    from ledger.models import Account
    from ledger.month import bounds, month_account
    from ledger.proving import prove
    from ledger.statements import account_page, holding_now

    grow(size)
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
    account = Account.objects.get(code="vessel:V03")
    since, until = bounds("2027-01")[0], bounds("2030-12")[1]
    readings: dict[str, Callable[[], object]] = {
        "balance": lambda: holding_now(account),
        "page of a vessel's account": lambda: account_page(account, since=since, until=until),
        "month's account": lambda: month_account("2028-06"),
    }
    taken = {}
    for name, what in readings.items():
        what()
        taken[name] = median(what)
    if not prove().holds:
        raise SystemExit("the ledger that was filled does not prove")
    taken["bare re-sum"] = median(bare_sum, 3)
    taken["whole proof"] = median(prove, 1)
    with TemporaryDirectory() as folder:
        taken["export"] = median(lambda: export(Path(folder) / "export"), 1)
    taken["memory"] = memory()
    connection.close()
    return taken


def main(sizes: list[int]) -> None:
    found = []
    with TemporaryDirectory() as folder:
        databases = Databases(Path(folder))
        try:
            for size in sizes:
                url = databases.new()
                made = run(url, "migrate", "--verbosity", "0")
                if made.returncode:
                    sys.exit(made.stderr)
                environment = {**os.environ, "DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "distillery.settings"}
                said = subprocess.run(
                    [sys.executable, __file__, "one", str(size)], env=environment, capture_output=True, text=True
                )
                if said.returncode:
                    sys.exit(said.stderr)
                found.append(json.loads(said.stdout))
        finally:
            databases.close()
    small, large = found
    print(f"{'SQLite' if databases.on_sqlite else 'PostgreSQL'}, {sizes[0]:,} and {sizes[1]:,} movements")
    for name in ("balance", "page of a vessel's account", "month's account"):
        ratio = large[name] / small[name]
        print(f"  {name}: {small[name] * 1000:.2f} ms and {large[name] * 1000:.2f} ms, ratio {ratio:.2f}")
    for name in ("whole proof", "export"):
        ratios = " and ".join(f"{one[name] / one['bare re-sum']:.1f}" for one in found)
        print(f"  {name}: {small[name]:.2f} s and {large[name]:.2f} s, {ratios} times a bare re-sum")
    print(f"  most memory held: {small['memory']:.0f} MB and {large['memory']:.0f} MB")


def memory() -> float:
    """Most memory this process has held, in megabytes; nought where the system does not say."""
    try:
        import resource
    except ImportError:
        return 0.0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    if sys.argv[1:2] == ["one"]:
        print(json.dumps(measure(int(sys.argv[2]))))
    else:
        main([int(argument) for argument in sys.argv[1:3]] or [2_000, 20_000])
