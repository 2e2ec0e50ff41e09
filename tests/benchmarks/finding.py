"""What finding costs: one month, and 1,000 operations of the same site in one period, made from nothing.

Run from the root of the repository: `python tests/benchmarks/finding.py`. The months are simulated ones of a large
site, the last with its slips. Only ratios and seconds of processor are printed; the aims are at most 1.5 seconds for a
thousand operations, and a growth of at most 1.3 times the work. Two thirds of the first month's operations are casks
taken on, which leave nothing to compare, so growth is printed by rows and by operations that have one as well.
"""

from __future__ import annotations

import os
import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "distillery.settings")

from tests.running_site import Databases, run  # noqa: E402

if TYPE_CHECKING:
    from ledger.comparing.observations.observed import Log

OPERATIONS = 1000
MONTH = "2027-01"
SEED = 4
MONTHS = (1, 3, 6)


def main() -> None:
    import django

    django.setup()

    compared: list[Compared] = []
    for months in MONTHS:
        compared.append(one := _compared(months))
        print(f"{one.operations} operations in one period: {one.seconds:.2f} s, {one.found} findings")
        if one.operations >= OPERATIONS:
            break
    small, large = compared[0], compared[-1]
    longer = large.seconds / small.seconds
    for what, before, after in (
        ("operations", small.operations, large.operations),
        ("operations with a row", small.with_rows, large.with_rows),
        ("rows", small.rows, large.rows),
    ):
        work = after / before
        print(f"{work:.1f} times the {what} ({before}, {after}) in {longer:.1f} times the time: {longer / work:.2f}")


@dataclass(frozen=True)
class Compared:
    """One period compared: its operations, those of them with a row, rows, seconds of processor, and findings."""

    operations: int
    with_rows: int
    rows: int
    seconds: float
    found: int


def _compared(months: int) -> Compared:
    """So many months taken as one period, compared twice; the quicker counts."""
    from ledger.comparing.compare import compare
    from tests.simulator import simulate
    from tests.simulator.shortcut import short_log

    with TemporaryDirectory() as scratch:
        folder = Path(scratch)
        simulate(SEED, folder, size="large", month=MONTH, months=months)
        with short_log(folder, MONTH) as (log, site):
            whole = replace(log, in_period=None)
            best = float("inf")
            for _ in range(2):
                started = time.process_time()
                comparison = compare(whole, site)
                best = min(best, time.process_time() - started)
            lines = comparison.as_written.model.equations.values()
            with_rows = len({line.doing.record for line in lines})
            return Compared(_operations(whole), with_rows, len(lines), best, len(comparison.findings))


def _operations(log: Log) -> int:
    return len({event.doing.record for event in log.events})


if __name__ == "__main__":
    with TemporaryDirectory() as scratch:
        databases = Databases(Path(scratch))
        try:
            url = databases.new()
            made = run(url, "migrate", "-v0")
            if made.returncode:
                raise SystemExit(made.stderr)
            os.environ["DATABASE_URL"] = url
            main()
        finally:
            databases.close()
