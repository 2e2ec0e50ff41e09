"""Whether reading slows down as the ledger grows, and what a whole proof costs against adding up alone.

Run from the root: `python tests/benchmarks/ledger_at_size.py [SMALLER LARGER]` (movements; 10,000 and 100,000 if left
out), with DATABASE_URL for PostgreSQL, and TMPDIR where there is room: a million movements take two to three gigabytes.
Two scratch databases are filled (tests/benchmarks/filling.py) and dropped at the end.

Printed as ratios of one run, the quickest of several rounds: a balance, the data of a page of a vessel's account and
the month's account, the larger ledger against the smaller (aim at most 1.3). The proof against bare re-sums: every leg
read through the ORM's values_list and added up by account in Python (aim at most 2), and SUM ... GROUP BY by the
database alone; beside them what it takes merely to read every row that the seals cover, which no proof can do without.
The export's time and the most memory its process held (aim under 200 MB). Posting against the same rows by bare SQL
comes from tests/benchmarks/posting.py.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.benchmarks.filling import fill  # noqa: E402
from tests.running_site import Databases, run  # noqa: E402

ROUNDS = 15


def bare_sum() -> None:
    """Every leg through the ORM, added up by account in Python."""
    from ledger.models import Leg

    pure: dict[int, int] = defaultdict(int)
    mass: dict[int, int] = defaultdict(int)
    for account, pure_ul, mass_g in Leg.objects.values_list("account_id", "pure_ul", "mass_g").iterator(2000):
        pure[account] += pure_ul
        mass[account] += mass_g


def database_sum() -> None:
    """The same by the database alone."""
    from django.db.models import Sum

    from ledger.models import Leg

    list(Leg.objects.order_by().values_list("account_id").annotate(Sum("pure_ul"), Sum("mass_g")))


def bare_reading() -> None:
    """Every row that the seals cover, read with a plain cursor and let go."""
    from django.db import connection

    with connection.cursor() as cursor:
        for table in ("ledger_leg", "ledger_measurement", "ledger_movement"):
            last = 0
            while True:
                cursor.execute(f"SELECT * FROM {table} WHERE id > %s ORDER BY id LIMIT 5000", [last])
                rows = cursor.fetchall()
                if not rows:
                    break
                last = rows[-1][0]


def best(what: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Seconds of the quickest round: what the work takes when nothing else wants the processor."""
    times = []
    for _ in range(rounds):
        started = time.perf_counter()
        what()
        times.append(time.perf_counter() - started)
    return min(times)


def reading() -> dict[str, float]:
    from distillery.lists.paging import key_page
    from ledger.models import Account, Balance
    from ledger.statements.balances import entries_of
    from ledger.statements.month import bounds, month_account

    account = Account.objects.get(code="vessel:V03")
    since, until = bounds("2027-01")[0], bounds("2030-12")[1]
    readings: dict[str, Callable[[], object]] = {
        "balance": lambda: Balance.objects.get(account=account).balance_ul,
        "page of a vessel's account": lambda: key_page(
            entries_of(account, since, until).order_by("-happened_at", "-position", "-pk")
        ),
        "month's account": lambda: month_account("2028-06"),
    }
    taken = {}
    for name, what in readings.items():
        what()
        taken[name] = best(what)
    return taken


def proving() -> dict[str, float]:
    from ledger.proof.proving import prove

    proof = prove()
    if not proof.holds:
        raise SystemExit(f"the ledger that was filled does not prove: {proof.broken[:3]}")
    taken = {"legs": float(proof.legs)}
    for name, what in (
        ("re-sum through the ORM", bare_sum),
        ("re-sum by the database", database_sum),
        ("reading every sealed row", bare_reading),
        ("whole proof", prove),
    ):
        taken[name] = best(what, 3)
    return {**taken, "memory of the proof": memory()}


def exporting() -> dict[str, float]:
    from ledger.proof.exporting import Export

    with TemporaryDirectory() as folder:
        started = time.perf_counter()
        Export().write(Path(folder) / "export")
        written = time.perf_counter() - started
    size = sum(len(piece) for piece in Export().zipped())
    zipped = time.perf_counter() - started - written
    return {"export": written, "zip": zipped, "zip megabytes": size / 2**20, "memory of the export": memory()}


def memory() -> float:
    """Most memory this process has held, in megabytes; nought where the system does not say."""
    try:
        import resource
    except ImportError:
        return 0.0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main(sizes: list[int]) -> None:
    with TemporaryDirectory() as folder:
        databases = Databases(Path(folder))
        try:
            small, large = (_measured(databases.new(), size) for size in sizes)
        finally:
            databases.close()
    print(f"{'SQLite' if databases.on_sqlite else 'PostgreSQL'}, {sizes[0]:,} and {sizes[1]:,} movements")
    print(f"  filled in {small['filled']:.0f} s and {large['filled']:.0f} s, {large['legs']:,.0f} legs in the larger")
    for name in ("balance", "page of a vessel's account", "month's account"):
        ratio = large[name] / small[name]
        print(f"  {name}: {small[name] * 1000:.2f} ms and {large[name] * 1000:.2f} ms, ratio {ratio:.2f}")
    print(f"  whole proof: {small['whole proof']:.2f} s and {large['whole proof']:.2f} s")
    for name in ("re-sum through the ORM", "re-sum by the database", "reading every sealed row"):
        ratios = " and ".join(f"{one['whole proof'] / one[name]:.1f}" for one in (small, large))
        print(f"    {name}: {small[name]:.2f} s and {large[name]:.2f} s; the proof takes {ratios} times that")
    print(f"  export: {small['export']:.1f} s and {large['export']:.1f} s; as one archive {large['zip']:.1f} s")
    for name in ("memory of the proof", "memory of the export"):
        print(f"  {name}: {small[name]:.0f} MB and {large[name]:.0f} MB")
    print(f"  archive: {large['zip megabytes']:.0f} MB")
    posting = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("posting.py"))], capture_output=True, text=True, check=False
    )
    print(f"  posting: {(posting.stdout or posting.stderr).strip()}")


def _measured(url: str, size: int) -> dict[str, float]:
    """Fills a database, then times each kind of work in a process of its own."""
    made = run(url, "migrate", "--verbosity", "0")
    if made.returncode:
        sys.exit(made.stderr)
    environment = {**os.environ, "DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "distillery.settings"}
    taken: dict[str, float] = {}
    for part in ("filling", "reading", "proving", "exporting"):
        said = subprocess.run(
            [sys.executable, __file__, part, str(size)], env=environment, capture_output=True, text=True, check=False
        )
        if said.returncode:
            sys.exit(said.stderr)
        taken |= json.loads(said.stdout)
    return taken


def _one(part: str, size: int) -> dict[str, float]:
    import django

    django.setup()
    if part == "filling":
        return {"filled": best(lambda: fill(size), 1)}
    return {"reading": reading, "proving": proving, "exporting": exporting}[part]()


if __name__ == "__main__":
    if sys.argv[1:] and not sys.argv[1].isdigit():
        print(json.dumps(_one(sys.argv[1], int(sys.argv[2]))))
    else:
        main([int(argument) for argument in sys.argv[1:3]] or [10_000, 100_000])
