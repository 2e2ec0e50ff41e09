"""What saving a spirit run by the form costs: an ordinary one, and one whose cut is some litres short.

Run from the root: `python tests/benchmarks/saving.py [RUNS] [--explain]`, with DATABASE_URL for PostgreSQL. The
demonstration's month is loaded into a scratch database; then its last spirit run is written again, a day later each
time, through the page, in turns as it was and with the spirit receiver's dip read too low. Before each, an untimed
posting brings the vessels to what that run began with.

Printed of each kind, in milliseconds of processor of this process, the median over the runs: until the answer is
there, until the record is committed, and how long of that the write lock was held (the outermost transaction); then
the number of queries. The aim is 100 until it is acknowledged, of which 30 under the lock. On PostgreSQL the server's
own work is in none of these. `--explain` lists the statements of one ordinary save, the most repeated first.
"""

from __future__ import annotations

import json
import os
import re
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any
from unittest import mock

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.running_site import SECRET_KEY, Databases, run  # noqa: E402

KIND = "spirit_run"
# The gauges a run begins with, each of another vessel.
BEGINS_WITH = ("low_wines_before", "feints_before", "spirit_before")
SHORT_DIP_MM = 40
FIRST_DAY = date(2027, 4, 2)
BOOKS_NOW = datetime(2027, 6, 2, 12, tzinfo=UTC)
WARMING_UP = 2


@dataclass(slots=True)
class Spent:
    """What one save cost, in milliseconds of processor, and the statements it asked."""

    answered: float = 0.0
    compared: float = 0.0
    committed: float = 0.0
    locked: float = 0.0
    statements: list[str] = field(default_factory=list)


@contextmanager
def clocked(spent: Spent) -> Iterator[None]:
    """Notes when the first outermost transaction of what goes on here began and ended, and every statement."""
    from django.db import connection, transaction

    enter, leave = transaction.Atomic.__enter__, transaction.Atomic.__exit__
    began = 0.0
    depth = 0

    def entered(block: Any) -> None:
        nonlocal began, depth
        enter(block)
        if depth == 0:
            began = time.process_time()
        depth += 1

    def left(block: Any, *error: Any) -> None:
        nonlocal depth
        leave(block, *error)
        depth -= 1
        if depth == 0 and not spent.committed:
            now = time.process_time()
            spent.locked, spent.committed = 1000 * (now - began), 1000 * (now - started)

    def asked(execute: Any, sql: str, *more: Any) -> Any:
        spent.statements.append(sql)
        return execute(sql, *more)

    patched = mock.patch.multiple(transaction.Atomic, __enter__=entered, __exit__=left)
    with patched, connection.execute_wrapper(asked):
        started = time.process_time()
        yield
        spent.answered = 1000 * (time.process_time() - started)


def main(runs: int, *, explain: bool) -> None:
    import django

    django.setup()
    from django.db import connection
    from django.test import Client

    from batches.models import Posted, Version
    from distillery.people.roles import STAFF
    from ledger.enquiries import following
    from ledger.models import Gauge
    from tests.people import somebody

    person = somebody("saver", STAFF)
    client = Client(SERVER_NAME="127.0.0.1")
    client.force_login(person)
    posted = Posted.objects.standing().filter(record__kind=KIND, moment="charge").order_by("movement_id").last()
    assert posted is not None, "the sample month has no spirit run"
    version = Version.objects.filter(record=posted.record).latest("serial")
    gauges = {gauge.name: gauge for gauge in Gauge.objects.filter(movement=posted.movement).select_related("account")}
    begin = [gauges[name] for name in BEGINS_WITH]
    costs: dict[str, list[Spent]] = {"ordinary": [], "odd": []}
    for number in range(2 * (runs + WARMING_UP)):
        kind = "odd" if number % 2 else "ordinary"
        sheet = _a_day_later(json.loads(version.values), number)
        if kind == "odd":
            sheet["spirit_after_dip_mm"] = str(int(sheet["spirit_after_dip_mm"]) - SHORT_DIP_MM)
        _set_up(begin, number, person)
        spent = Spent()
        left: list[Callable[[], None]] = []
        # What follows on the entry is done once the answer has been handed over, and timed by itself.
        with clocked(spent), mock.patch.object(following, "afterwards", left.append):
            answer = client.post(f"/records/{KIND}/new/", sheet)
        started = time.process_time()
        for work in left:
            work()
        spent.compared = 1000 * (time.process_time() - started)
        if answer.status_code != 302:
            sys.exit(f"The page did not save the run: {answer.content.decode()}")
        if number >= 2 * WARMING_UP:
            costs[kind].append(spent)
    connection.close()
    for kind, found in costs.items():
        print(
            f"{connection.vendor}, {kind} spirit run, {len(found)} saved: answered after "
            f"{median(one.answered for one in found):.0f} ms of processor, committed after "
            f"{median(one.committed for one in found):.0f}, under the lock {median(one.locked for one in found):.0f}, "
            f"{median(len(one.statements) for one in found):.0f} queries; compared afterwards in "
            f"{median(one.compared for one in found):.0f}"
        )
    if explain:
        for text, times in Counter(map(_shown, costs["ordinary"][-1].statements)).most_common():
            print(f"{times:4} {text}")


def _a_day_later(typed: dict[str, str], number: int) -> dict[str, str]:
    """What was typed, the run beginning on the day of this number instead."""
    from batches.sheets.register import sheet_of
    from batches.sheets.sheet import Kind
    from batches.sheets.typed.moments import dated
    from batches.sheets.typed.parsing import read

    sheet = sheet_of(KIND)
    fields = [one for one in sheet.fields if one.kind == Kind.MOMENT and one.name in typed]
    times = {one.name: read(one, typed[one.name]).value for one in fields}
    first = times[sheet.moments[0].when]
    by = timedelta(days=(FIRST_DAY - first.date()).days + number)
    return typed | {name: dated(at + by) for name, at in times.items()}


def _set_up(begin: list[Any], number: int, person: Any) -> None:
    """Brings the vessels to what the run begins with, from a source, so that no gauge finds anything."""
    from distillery.alcoholometry.quantity import Quantity
    from distillery.plant.models import MICRO
    from ledger.posting.accounts import source, vessel_account
    from ledger.posting.drafts import Draft, GaugeTaken, Taken
    from ledger.posting.post import post

    lines = [
        Taken(
            GaugeTaken(
                name=gauge.name,
                vessel_account=vessel_account(gauge.account.vessel),
                quantity=Quantity(
                    pure_ul=gauge.pure_ul,
                    mass_g=gauge.mass_g,
                    litres20=gauge.litres20_ul / MICRO,
                    percent20=gauge.percent20_millionths / MICRO,
                    uncertainty_ul=gauge.uncertainty_ul,
                ),
                raw=json.loads(gauge.raw),
                method=gauge.method,
                role=gauge.role,
                rule=gauge.rule,
                chain=gauge.chain,
            ),
            source("opening stock"),
        )
        for gauge in begin
    ]
    at = datetime(FIRST_DAY.year, FIRST_DAY.month, FIRST_DAY.day, 0, 30, tzinfo=UTC) + timedelta(days=number)
    draft = Draft(
        kind="transfer",
        operation="transfer",
        happened_at=at,
        record_kind="transfer",
        record_number=f"set-up-{number}",
        moment="finish",
        lines=tuple(lines),
    )
    post(draft, person=person)


def _shown(statement: str) -> str:
    """A statement on one line, without the columns it lists."""
    line = " ".join(statement.split())
    return re.sub(r"^SELECT (?!1 ).*? FROM", "SELECT ... FROM", line)[:200]


if __name__ == "__main__":
    words = [one for one in sys.argv[1:] if one != "--explain"]
    set_first = (
        "from datetime import datetime\n"
        "from distillery.clock.setting import days_until, set_clock\n"
        f"set_clock(days_until(datetime.fromisoformat('{BOOKS_NOW.isoformat()}')), why='to measure')"
    )
    with TemporaryDirectory() as scratch:
        databases = Databases(Path(scratch))
        try:
            url = databases.new()
            for command in (("migrate",), ("shell", "-c", set_first), ("load_month", "fixtures/sample-month")):
                made = run(url, *command, "--verbosity", "0")
                if made.returncode:
                    sys.exit(made.stdout + made.stderr)
            os.environ.update(DATABASE_URL=url, DJANGO_SETTINGS_MODULE="distillery.settings", SECRET_KEY=SECRET_KEY)
            main(int(words[0]) if words else 10, explain="--explain" in sys.argv)
        finally:
            databases.close()
