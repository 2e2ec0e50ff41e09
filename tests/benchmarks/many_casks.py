"""What pages cost on the demonstration's month, and on the same month with many more casks beside it.

Run from the root: `python tests/benchmarks/many_casks.py [CASKS]` (20,000 if left out), with DATABASE_URL for
PostgreSQL. The demonstration is loaded once into a scratch database; a copy of it is given the casks by bulk rows, each
with its filling, one in four gauged twice since, in eight warehouses. Both are dropped at the end. What is written by
bulk rows is sealed by nobody, so no proof is wanted of it.

Printed for each page: milliseconds of processor of this process, the greater of nineteen in twenty rounds, and how
often the database is asked, on both; then how many times the first the second is. On PostgreSQL the server's own work
is not in it.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.benchmarks.filling import cask_accounts  # noqa: E402
from tests.running_site import Databases, run  # noqa: E402

ROUNDS = 20
BATCH = 2000
KINDS = ("barrel", "hogshead", "butt")
FIRST_FILLED = datetime(2014, 1, 6, 9, tzinfo=UTC)
BETWEEN = timedelta(hours=4)
REGAUGED_AFTER = (timedelta(days=730), timedelta(days=1095))
FILLED_UL, FILLED_G = 127_000_000, 160_000
WAREHOUSES = 8
REGAUGED = 4
PAGES = (
    "/",
    "/warehouse/",
    "/warehouse/?warehouse=W3&state=full",
    "/warehouse/expected/",
    "/warehouse/expected/?warehouse=1A",
    "/casks/{cask}/",
    "/bottling/",
    "/plant/",
    "/plant/instruments/",
    "/site/",
    "/find/?q={short}",
    "/find/?q=2022",
    "/records/",
    "/books/months/2027-03/",
    "/board/",
    "/bench/gauge/",
    "/bench/cask/",
    "/stock/",
    "/stock/casks/",
    "/stock/casks/?on=2027-03-15",
    "/stock-takes/1/",
    "/stock-takes/1/casks/?in={place}",
)


def fill(number: int) -> None:
    """So many more casks, each filled by a movement of its own; every fourth was gauged two and three years on."""
    from django.db import connection, transaction

    from distillery.database.guards import install, remove
    from distillery.people.models import Person
    from distillery.trail.checks import all_guards
    from ledger.models import Account, Movement

    everything = all_guards(connection)
    remove(connection, everything)
    try:
        with transaction.atomic():
            person = Person.objects.order_by("pk")[0]
            source = Account.objects.get(code="source:opening stock")
            newest = Movement.objects.order_by("-pk")[0].pk
            for first in range(0, number, BATCH):
                newest = _fill_some(range(first, min(first + BATCH, number)), newest, person, source)
    finally:
        install(connection, everything)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _fill_some(numbers: range, newest: int, person: Any, source: Any) -> int:
    from distillery.plant.models import Cask, Kind, Stage, Vessel
    from ledger.models import Balance, Gauge, Leg, Movement, RunningBalance

    filled = {one: FIRST_FILLED + BETWEEN * one for one in numbers}
    codes = {one: f"{filled[one].year}/{one + 50_000:05}" for one in numbers}
    vessels = Vessel.objects.bulk_create(
        Vessel(code=code, name=code, kind=Kind.CASK, stage=Stage.MATURING) for code in codes.values()
    )
    Cask.objects.bulk_create(
        Cask(
            vessel=vessel,
            kind=KINDS[one % len(KINDS)],
            nominal_ul=200_000_000,
            warehouse=f"W{one % WAREHOUSES}",
            tare_g=52_000,
            filled_at=filled[one],
        )
        for one, vessel in zip(numbers, vessels, strict=True)
    )
    accounts = cask_accounts(vessels)
    movements, legs, gauges = [], [], []
    for one, account in zip(numbers, accounts, strict=True):
        newest += 1
        movements.append(_movement(newest, "opening_cask", codes[one], filled[one], person))
        for line, (its, other, sign) in enumerate(((source, account, -1), (account, source, 1)), 1):
            legs.append(_leg(newest, line, its, other, filled[one], sign * FILLED_UL, sign * FILLED_G))
        for place, after in enumerate(REGAUGED_AFTER if one % REGAUGED == 0 else ()):
            newest += 1
            at = filled[one] + after
            movements.append(_movement(newest, "regauge", codes[one], at, person))
            # A cask in two hundred has lost what no band explains.
            kept = 0.7 if one % 200 == 0 else 0.96 - 0.015 * place - (one % 17) / 1000
            gauges.append(_gauge(newest, account, at, round(FILLED_UL * kept)))
    Movement.objects.bulk_create(movements)
    Leg.objects.bulk_create(legs)
    Gauge.objects.bulk_create(gauges)
    held = list(Leg.objects.filter(account__in=accounts))
    RunningBalance.objects.bulk_create(
        RunningBalance(
            leg=leg,
            account_id=leg.account_id,
            happened_at=leg.happened_at,
            position=leg.position,
            balance_ul=leg.pure_ul,
            mass_g=leg.mass_g,
        )
        for leg in held
    )
    Balance.objects.bulk_create(
        Balance(account_id=leg.account_id, balance_ul=leg.pure_ul, mass_g=leg.mass_g, last_leg=leg.pk) for leg in held
    )
    return newest


def _movement(number: int, operation: str, code: str, at: datetime, person: Any) -> Any:
    from ledger.models import Movement

    return Movement(
        id=number,
        kind="operation",
        operation=operation,
        happened_at=at,
        written_at=datetime(2030, 1, 1, tzinfo=UTC),
        period=f"{at:%Y-%m}",
        person=person,
        record_kind=operation,
        record_number=f"X{number}",
        moment="done",
        slot=number,
        previous_seal="0" * 64,
        seal=f"{number:064x}",
    )


def _leg(number: int, line: int, account: Any, other: Any, at: datetime, pure_ul: int, mass_g: int) -> Any:
    from ledger.models import Entry, Leg

    return Leg(
        movement_id=number,
        line=line,
        position=number * 4096,
        account=account,
        other=other,
        stage=account.stage,
        entry=Entry.FLOW,
        happened_at=at,
        period=f"{at:%Y-%m}",
        pure_ul=pure_ul,
        mass_g=mass_g,
    )


def _gauge(number: int, account: Any, at: datetime, pure_ul: int) -> Any:
    from ledger.models import Gauge

    return Gauge(
        movement_id=number,
        account=account,
        name="gross",
        role="after",
        method="weight",
        happened_at=at,
        position=number * 4096,
        pure_ul=pure_ul,
        mass_g=150_000,
        litres20_ul=200_000_000,
        percent20_millionths=62_500_000,
        uncertainty_ul=500_000,
        book_ul=FILLED_UL,
        rule="OIML R 22",
        raw="{}",
    )


# -- measuring


def reading() -> dict[str, tuple[float, int]]:
    """Of each page: milliseconds of processor, nineteen of twenty rounds, and queries."""
    from django.conf import settings
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    from batches.steps import STEPS
    from distillery.people.models import Person
    from distillery.plant.models import Cask

    settings.ALLOWED_HOSTS = ["testserver"]
    client = Client()
    client.force_login(Person.objects.get(username="isla"))
    cask = Cask.objects.filter(vessel__code__startswith="2022/").order_by("vessel__code")[0].vessel.code
    # The warehouse of a stock take; a large site has thousands of casks in it, and half of them are seen.
    place = _counted(Person.objects.get(username="isla"))
    named = {"cask": cask, "place": place, "short": cask.replace("/0", "/").replace("/0", "/").replace("/0", "/")}
    pages = [one.format(**named) for one in PAGES] + [f"/records/{sheet.kind}/new/" for sheet in STEPS]
    found = {}
    for page in pages:
        with CaptureQueriesContext(connection):
            client.get(page)
        with CaptureQueriesContext(connection) as asked:
            answer = client.get(page)
            # The next request begins the list of queries anew.
            queries = len(asked)
        assert answer.status_code in (200, 302), f"{page}: {answer.status_code}"
        taken = []
        for _ in range(ROUNDS):
            began = time.process_time()
            client.get(page)
            taken.append(time.process_time() - began)
        found[page] = (1000 * sorted(taken)[ROUNDS - 2], queries)
    return found


def _counted(person: Any) -> str:
    """Plans a stock take of all warehouses with half of the casks of the last one seen, and gives that one's name."""
    from batches.counting.models import Count, StockTake
    from batches.counting.planning import Planned, plan, warehouses_to_count
    from batches.counting.walking import casks_lying
    from distillery.clock.reading import books_now, books_today

    warehouses = warehouses_to_count()
    if not StockTake.objects.exists():
        everywhere: dict[str, list[str]] = {one: [] for one in warehouses}
        take = plan(Planned(books_today(), warehouses=everywhere, weigh_one_in=100), person=person)
        at, lying = books_now(), casks_lying(warehouses[-1])
        Count.objects.bulk_create(
            Count(
                take=take,
                what="cask",
                how="seen",
                vessel=cask.vessel,
                place=warehouses[-1],
                at=at,
                book_ul=FILLED_UL,
                written_at=at,
                person=person,
            )
            for cask in lying[: lying.count() // 2]
        )
    return warehouses[-1]


def main(casks: int) -> None:
    with TemporaryDirectory() as folder:
        databases = Databases(Path(folder))
        try:
            url = databases.new()
            for command in (("migrate", "--verbosity", "0"), ("demo", "--month", "--no-serve")):
                done = run(url, *command)
                if done.returncode:
                    sys.exit(done.stderr)
            large = databases.copy_of(url)
            _part(large, "filling", casks)
            few, many = _part(url, "reading", casks), _part(large, "reading", casks)
        finally:
            databases.close()
    print(f"{'SQLite' if databases.on_sqlite else 'PostgreSQL'}: the demonstration, and {casks:,} casks besides")
    print("  page: ms of processor, p95 of 20 (queries), both; times")
    for (page, one), other in zip(few.items(), many.values(), strict=True):
        print(f"  {page}: {one[0]:.0f} ({one[1]}), {other[0]:.0f} ({other[1]}); {other[0] / one[0]:.2f}")


def _part(url: str, part: str, casks: int) -> Any:
    environment = {**os.environ, "DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "distillery.settings"}
    done = subprocess.run(
        [sys.executable, __file__, part, str(casks)], env=environment, capture_output=True, text=True, check=False
    )
    if done.returncode:
        sys.exit(done.stderr)
    return json.loads(done.stdout or "null")


if __name__ == "__main__":
    if sys.argv[1:] and not sys.argv[1].isdigit():
        import django

        django.setup()
        print(json.dumps(fill(int(sys.argv[2])) if sys.argv[1] == "filling" else reading()))
    else:
        main(int(sys.argv[1]) if sys.argv[1:] else 20_000)
