"""What the whole proof costs against merely reading the rows that its seals cover, and one from the last closing on.

Run from the root: `python tests/benchmarks/proving.py [MOVEMENTS]` (50,000 if left out), with DATABASE_URL for
PostgreSQL. Two scratch databases are made and dropped at the end: a ledger filled at size (tests/benchmarks/filling.py;
movements, legs and gauges, no records; all its months but the last are closed) and the demonstration with its loaded
month, which has records, versions and a trail in their proportions. `--site FOLDER_OR_URL` measures a site that is
there instead, such as `large_site` makes; it is only read.

One process does both, in the same rounds. Printed are seconds of processor, the least of several rounds, and the time
that passed, since on PostgreSQL the server's own work is not in the first; then their ratio (aim at most 2.0) and what
each part takes.

Merely reading is: every row of every table that `proved_tables` says is in a seal or digest, or is held against its
trail, which the seals of the books cover, and the trail itself; each once, through Django's cursor, in the order in
which the table lies, all its columns, as the tuples that the cursor gives, and let go. Not read are the rows that the
proof works out again and holds against what it worked out (running balances, balances, months, postings, mentions,
contents, links): no seal covers those, and reading them is part of what proving them costs. Nor is anything read twice,
though the proof compares each row of the trail with the row it is about.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.benchmarks.filling import fill  # noqa: E402
from tests.running_site import Databases, environment, run  # noqa: E402

ROUNDS = 5
Taken = tuple[float, float]


def bare_reading() -> None:
    """Every row that a seal or digest covers, or that its trail answers for, fetched as a tuple and let go."""
    from django.db import connection

    from batches.audit.proved_tables import TABLES, Proved

    with connection.cursor() as cursor:
        for table, known_by in TABLES.items():
            if not {Proved.SEALED, Proved.TRAIL} & set(known_by):
                continue
            cursor.execute(f"SELECT * FROM {table}")
            while cursor.fetchmany(2000):
                pass


def best(what: Callable[[], object]) -> Taken:
    """Seconds of processor and seconds passed of the quickest of the rounds."""
    taken = []
    for _ in range(ROUNDS):
        processor, passed = time.process_time(), time.perf_counter()
        what()
        taken.append((time.process_time() - processor, time.perf_counter() - passed))
    return min(one for one, _ in taken), min(one for _, one in taken)


def parts() -> dict[str, Taken]:
    """What each part of one whole proof takes."""
    from ledger.proof.proving import prove

    taken: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
    last: list[Any] = ["", 0.0, 0.0]

    def told(part: str) -> None:
        now = (time.process_time(), time.perf_counter())
        if last[0]:
            taken[last[0]][0] += now[0] - last[1]
            taken[last[0]][1] += now[1] - last[2]
        last[:] = [part, *now]

    prove(told=told)
    told("")
    return {part: (processor, passed) for part, (processor, passed) in taken.items()}


def measured() -> dict[str, Any]:
    from ledger.periods.models import Closing
    from ledger.proof.proving import prove

    prove()
    found: dict[str, Any] = {"reading": best(bare_reading), "proof": best(prove), "parts": parts()}
    if Closing.objects.exists():
        found["from the closing"] = best(lambda: prove(from_closing=True))
    return found


def close_the_year() -> None:
    """Closes all months but the last that has movements, as two people would if every enquiry were answered."""
    from django.db.models import Sum

    from distillery.seals.lookup import last_seal
    from distillery.seals.writing import written_by
    from ledger.models import Account, AccountMonth, Movement
    from ledger.periods import sealed
    from ledger.periods.calendar import Calendar
    from ledger.periods.models import CloseRequest, Closing, ClosingBalance
    from tests.people import somebody

    period = sorted(set(Movement.objects.values_list("period", flat=True)))[-2]
    begins, ends = Calendar.read().bounds(period)
    last = Movement.objects.filter(period=period).order_by("pk").last()
    books_seal = last_seal()
    assert last is not None
    assert books_seal is not None
    with written_by(None, "measuring"):
        first, second = somebody("first"), somebody("second")
        asked = CloseRequest.objects.create(
            period=period, person=first, asked_at=ends, last_number=last.pk, remark="for measuring"
        )
        closing = Closing(
            number=1,
            period=period,
            begins=begins,
            ends=ends,
            request=asked,
            person=second,
            agreed_at=ends,
            last_number=last.pk,
            last_seal=last.seal,
            books_seal=books_seal.seal,
            previous_digest="0" * 64,
        )
        nets = AccountMonth.objects.filter(period__lte=period).values_list("account_id")
        sums = list(nets.annotate(Sum("pure_ul"), Sum("mass_g")).order_by("account_id"))
        codes = dict(Account.objects.values_list("pk", "code"))
        people = {first.pk: first.username, second.pk: second.username}
        closing.digest = sealed.digest(closing, [(codes[pk], pure, mass) for pk, pure, mass in sums], people=people)
        # As in earnest: once the closing stands it takes no more balances.
        ClosingBalance.objects.bulk_create(
            ClosingBalance(closing=closing, account_id=pk, pure_ul=pure, mass_g=mass) for pk, pure, mass in sums
        )
        closing.save(force_insert=True)


def main(size: int) -> None:
    with TemporaryDirectory() as folder:
        databases = Databases(Path(folder))
        try:
            large, month = databases.new(), databases.new()
            for url, *commands in ((large, ("migrate",)), (month, ("migrate",), ("demo", "--month", "--no-serve"))):
                for command in commands:
                    done = run(url, *command)
                    if done.returncode:
                        sys.exit(done.stderr)
            _part(large, "filling", size)
            _part(large, "closing", size)
            engine = "SQLite" if databases.on_sqlite else "PostgreSQL"
            _print(f"{engine}, {size:,} movements filled in", _part(large, "measured", size))
            _print(f"{engine}, the month of the demonstration", _part(month, "measured", size))
        finally:
            databases.close()


def measure_site(site: str) -> None:
    """The same of a site that is there: a folder of `large_site`, a file of SQLite or a URL."""
    file = Path(site) / "site.sqlite3" if (Path(site) / "site.sqlite3").is_file() else Path(site)
    url = site if "://" in site else f"sqlite:///{file.resolve()}"
    _print(site, _part(url, "measured", 0))


def _print(title: str, found: dict[str, Any]) -> None:
    (read, read_passed), (proved, proved_passed) = found["reading"], found["proof"]
    print(f"{title}: seconds of processor (that passed)")
    print(f"  merely reading: {read:.3f} ({read_passed:.3f})")
    print(f"  the whole proof: {proved:.3f} ({proved_passed:.3f})")
    print(f"  ratio: {proved / read:.1f} ({proved_passed / read_passed:.1f})")
    if "from the closing" in found:
        processor, passed = found["from the closing"]
        print(f"  from the closing on: {processor:.3f} ({passed:.3f})")
    for part, (processor, passed) in found["parts"].items():
        print(f"    {part}: {processor:.3f} ({passed:.3f})")


def _part(url: str, part: str, size: int) -> Any:
    done = subprocess.run(
        [sys.executable, __file__, part, str(size)],
        env=environment(url, DJANGO_SETTINGS_MODULE="distillery.settings"),
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        sys.exit(done.stderr)
    return json.loads(done.stdout)


def _one(part: str, size: int) -> Any:
    import django

    django.setup()
    return {"filling": lambda: fill(size), "closing": close_the_year, "measured": measured}[part]()


if __name__ == "__main__":
    if sys.argv[1:2] == ["--site"]:
        measure_site(sys.argv[2])
    elif sys.argv[1:] and not sys.argv[1].isdigit():
        print(json.dumps(_one(sys.argv[1], int(sys.argv[2]))))
    else:
        main(int(sys.argv[1]) if sys.argv[1:] else 50_000)
