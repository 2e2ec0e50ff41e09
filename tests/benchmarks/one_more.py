"""What comparing a month costs after one more record, and the same month made from nothing, in turns.

Run from the root: `python -m tests.benchmarks.one_more [ROUNDS]`. The demonstration is made in a scratch database
(DATABASE_URL for PostgreSQL); then its last spirit run, and one in the middle of the month, is put right by one more
millimetre each time. Printed are milliseconds of processor of this process, the median over
the rounds, until the comparison is there again: by one that remembers the parts it made before, as the process beside
the server does, and by one that remembers nothing. The aim is 150 for the first. What is found has to be equal.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import TypeVar
from unittest import mock

from tests.running_site import SECRET_KEY, Databases, run

PERIOD = "2027-03"
ROUNDS = 8
DIP = "spirit_after_dip_mm"
Made = TypeVar("Made")


def main(rounds: int) -> None:
    import django

    django.setup()
    from django.db import connection

    from batches.models import Record, State
    from batches.records import recording, versions
    from distillery.people.roles import STAFF
    from ledger.comparing.month import compare_month
    from ledger.enquiries import following
    from ledger.kept.keeping import current, let_go
    from tests.people import somebody

    person = somebody("writer", STAFF)
    runs = list(Record.objects.filter(state=State.COMPLETE, kind="spirit_run").order_by("happened_from"))
    chosen = {"the last spirit run": runs[-1], "one in the middle of the month": runs[len(runs) // 2]}
    current(PERIOD)
    for what, record in chosen.items():
        remembered, anew = [], []
        dip = int(versions.typed_of(versions.newest(record))[0][DIP])
        for number in range(rounds + 1):
            changed = {DIP: str(dip + number + 1)}
            with mock.patch.object(following, "afterwards"):
                recording.correct(record, changed, person=person, reason="read again", sure=True)
            took, found = _spent(lambda: current(PERIOD).month.findings)
            from_nothing, again = _spent(lambda: compare_month(PERIOD).findings)
            assert found == again, "what is kept is what is made from nothing"
            if number:
                remembered.append(took)
                anew.append(from_nothing)
        print(
            f"{connection.vendor}, {what} put right, {rounds} times: {median(remembered):.0f} ms of processor, "
            f"from nothing (without what could not have been seen) {median(anew):.0f}"
        )
    let_go()
    connection.close()


def _spent(work: Callable[[], Made]) -> tuple[float, Made]:
    began = time.process_time()
    made = work()
    return 1000 * (time.process_time() - began), made


if __name__ == "__main__":
    with TemporaryDirectory() as scratch:
        databases = Databases(Path(scratch), "one_more")
        try:
            url = databases.new()
            made = run(url, "demo", "--month", "--no-serve")
            if made.returncode:
                raise SystemExit(made.stderr)
            os.environ |= {
                "DATABASE_URL": url,
                "DJANGO_SETTINGS_MODULE": "distillery.settings",
                "SECRET_KEY": SECRET_KEY,
            }
            main(int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS)
        finally:
            databases.close()
