"""What a page of a long list costs: records, movements and casks at the size of a busy site after many years.

Run from the root: `python tests/benchmarks/lists.py [RECORDS CASKS]` (100,000 and 20,000 if left out), with
DATABASE_URL for PostgreSQL. A scratch database is filled by bulk rows (tests/benchmarks/filling.py for movements) and
dropped at the end; the records are complete ones of one kind, each with a version.

Printed in milliseconds of processor of this process, the median of several rounds: first and last page, a filter and a
sort of each list, the whole page as `listed` and the template make it, and of it the making of the 50 rows. Aim: under
50, of which the rows at most 30. On PostgreSQL the server's own work is not in it, so the time that passed stands
beside it. Then 20,000 casks as a workbook: seconds, and the most memory the process held (aim: under 20 s and 200 MB).
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.benchmarks.filling import cask_accounts, fill  # noqa: E402
from tests.running_site import Databases, run  # noqa: E402

ROUNDS = 9
BATCH = 5000
YEARS = 12
START = datetime(2016, 1, 4, 6, tzinfo=UTC)
WRITTEN = datetime(2030, 1, 1, tzinfo=UTC)
DIGEST = "0" * 64


def fill_all(records: int, casks: int) -> None:
    """Movements, a record with a version for each, and full casks."""
    from django.db import connection, transaction

    from distillery.database.guards import install, remove
    from distillery.trail.checks import all_guards

    fill(records)
    everything = all_guards(connection)
    remove(connection, everything)
    try:
        with transaction.atomic():
            _fill_records(records)
            _take_some_back(records)
            _fill_casks(casks, records)
    finally:
        install(connection, everything)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _fill_records(size: int) -> None:
    from batches.models import Record, State, Version
    from distillery.people.models import Person
    from ledger.models import Movement

    person = Person.objects.get(username="ishbel")
    values = json.dumps({"from_vessel": "V01", "to_vessel": "V02", "at": "2027-03-01 06:00"})
    moments = dict(Movement.objects.values_list("pk", "happened_at"))
    for first in range(1, size + 1, BATCH):
        numbers = range(first, min(first + BATCH, size + 1))
        made = Record.objects.bulk_create(
            Record(
                kind="transfer",
                number=str(number),
                state=State.VOID if number % 500 == 0 else State.COMPLETE,
                happened_from=moments[number],
                opened_by=person,
                opened_at=WRITTEN,
            )
            for number in numbers
        )
        Version.objects.bulk_create(
            Version(record=one, serial=1, values=values, digest=DIGEST, written_at=WRITTEN, person=person)
            for one in made
        )


def _take_some_back(size: int) -> None:
    """Every five hundredth movement takes back the one before it, for the list to show; no proof is wanted here."""
    from ledger.models import Movement, MovementKind

    for number in range(500, size + 1, 500):
        Movement.objects.filter(pk=number).update(corrects=number - 1, kind=MovementKind.CORRECTION)


def _fill_casks(size: int, records: int) -> None:
    from distillery.plant.models import Cask, Kind, Stage, Vessel
    from ledger.models import Balance, Gauge

    kinds, places = ("barrel", "hogshead", "butt"), ("1A", "1B", "2A", "2B")
    for first in range(1, size + 1, BATCH):
        numbers = range(first, min(first + BATCH, size + 1))
        codes = {number: f"{2016 + number * YEARS // size}/{number:05}" for number in numbers}
        vessels = Vessel.objects.bulk_create(
            Vessel(code=codes[one], name=codes[one], kind=Kind.CASK, stage=Stage.MATURING, capacity_ul=200_000_000)
            for one in numbers
        )
        Cask.objects.bulk_create(
            Cask(
                vessel=vessel,
                kind=kinds[place % 3],
                nominal_ul=200_000_000,
                warehouse=places[place % 4],
                filled_at=START + timedelta(hours=(first + place) * 5),
            )
            for place, vessel in enumerate(vessels)
        )
        accounts = cask_accounts(vessels)
        Balance.objects.bulk_create(
            Balance(account=one, balance_ul=100_000_000 + one.pk, mass_g=150_000, last_leg=1) for one in accounts
        )
        Gauge.objects.bulk_create(
            Gauge(
                movement_id=1 + (first + place) % records,
                account=one,
                name="gross",
                role="after",
                method="weight",
                happened_at=START + timedelta(days=2000),
                position=1,
                pure_ul=100_000_000,
                mass_g=150_000,
                litres20_ul=160_000_000,
                percent20_millionths=62_500_000,
                uncertainty_ul=100_000,
                book_ul=0,
                rule="OIML R 22",
                raw="{}",
            )
            for place, one in enumerate(accounts)
        )


# -- measuring

ASKED = {
    "first page": "",
    "last page": "page=last",
    "a filter": {
        "records": "state=void",
        "movements": "vessel=V03",
        "casks": "warehouse=1B",
        "records by vessel": "vessel=V03",
        "movements of a month": "month=2028-06",
        "movements by state": "state=taken+back",
    },
    "a sort": {"records": "sort=happened", "movements": "sort=happened", "casks": "sort=-number"},
}


def lists() -> dict[str, Callable[[str], Any]]:
    """Each list by name: asked with a query, it gives the table ready to be shown."""
    from django.test import RequestFactory

    from batches.models import Record
    from batches.pages.places.cask_table import CaskFilters, CaskTable
    from batches.pages.records.record_table import RecordFilters, RecordTable, with_latest
    from batches.steps import sheet_of
    from distillery.lists.showing import listed
    from distillery.plant.models import Cask
    from ledger.views.lists.movements import MovementFilters, MovementTable, movements

    get = RequestFactory().get
    sheet = sheet_of("transfer")

    def records(query: str) -> Any:
        rows = with_latest(Record.objects.filter(kind="transfer"))
        return listed(get(f"/?{query}"), RecordTable, rows, RecordFilters, sheet=sheet).table

    def of_movements(query: str) -> Any:
        return listed(get(f"/?{query}"), MovementTable, movements(), MovementFilters).table

    def casks(query: str) -> Any:
        return listed(get(f"/?{query}"), CaskTable, Cask.objects.select_related("vessel"), CaskFilters).table

    return {"records": records, "movements": of_movements, "casks": casks}


def reading() -> list[tuple[str, str, float, float, float]]:
    """List, what was asked, processor, time that passed, and of the processor the 50 rows; milliseconds."""
    from django.template.loader import get_template

    template = get_template("lists/table.html")
    found = []
    for name, ask in lists().items():
        for what, queries in ASKED.items():
            pairs = [(what, queries)] if isinstance(queries, str) else _pairs(name, what, queries)
            for said, query in pairs:
                found.append((name, said, *_measured(ask, query, template)))
    return found


def _pairs(name: str, what: str, queries: dict[str, str]) -> list[tuple[str, str]]:
    return [
        (what if one == name else f"{what}: {one.removeprefix(name).strip()}", query)
        for one, query in queries.items()
        if one.split()[0] == name
    ]


def _measured(ask: Callable[[str], Any], query: str, template: Any) -> tuple[float, float, float]:
    taken = []
    for _ in range(ROUNDS):
        began, at = time.process_time(), time.perf_counter()
        table = ask(query)
        rows_began = time.process_time()
        rows = table.shown()
        rows_taken = time.process_time() - rows_began
        assert rows, f"nothing fits {query}"
        table.shown = lambda rows=rows: rows
        template.render({"list": table})
        taken.append((time.process_time() - began, time.perf_counter() - at, rows_taken))
    processor, passed, of_rows = (1000 * median(column) for column in zip(*taken, strict=True))
    return processor, passed, of_rows


def saving() -> dict[str, float]:
    """Seconds and megabytes of a workbook of all casks."""
    import resource

    from distillery.lists.exports import workbook

    table = lists()["casks"]("")
    began, of_processor = time.perf_counter(), time.process_time()
    with workbook(table) as file:
        size = file.seek(0, os.SEEK_END)
    return {
        "seconds": time.perf_counter() - began,
        "processor": time.process_time() - of_processor,
        "memory": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        "megabytes": size / 2**20,
    }


def main(records: int, casks: int) -> None:
    with TemporaryDirectory() as folder:
        databases = Databases(Path(folder))
        try:
            url = databases.new()
            made = run(url, "migrate", "--verbosity", "0")
            if made.returncode:
                sys.exit(made.stderr)
            filled, found, saved = (_part(url, part, records, casks) for part in ("filling", "reading", "saving"))
        finally:
            databases.close()
    engine = "SQLite" if databases.on_sqlite else "PostgreSQL"
    print(f"{engine}: {records:,} records and movements, {casks:,} casks, filled in {filled:.0f} s")
    print("  ms of processor (ms that passed; of the processor the rows)")
    for name, what, processor, passed, rows in found:
        print(f"  {name}, {what}: {processor:.1f} ({passed:.1f}; {rows:.1f})")
    print(
        f"  casks as a workbook of {saved['megabytes']:.1f} MB: {saved['seconds']:.1f} s "
        f"({saved['processor']:.1f} s of processor), "
        f"{saved['memory']:.0f} MB of memory at most"
    )


def _part(url: str, part: str, records: int, casks: int) -> Any:
    environment = {**os.environ, "DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "distillery.settings"}
    done = subprocess.run(
        [sys.executable, __file__, part, str(records), str(casks)],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        sys.exit(done.stderr)
    return json.loads(done.stdout)


def _one(part: str, records: int, casks: int) -> Any:
    import django

    django.setup()
    if part == "filling":
        began = time.perf_counter()
        fill_all(records, casks)
        return time.perf_counter() - began
    return {"reading": reading, "saving": saving}[part]()


if __name__ == "__main__":
    if sys.argv[1:] and not sys.argv[1].isdigit():
        print(json.dumps(_one(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))))
    else:
        main(*([int(one) for one in sys.argv[1:3]] or [100_000, 20_000]))
