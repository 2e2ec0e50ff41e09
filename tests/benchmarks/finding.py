"""What finding costs: one month, and 1,000 operations of the same site in one period, made from nothing.

Run from the root of the repository: `python tests/benchmarks/finding.py`. The months are simulated ones of a large
site, the last with its slips. Only ratios and seconds of processor are printed; the aims are at most 1.5 seconds for a
thousand operations, and a growth of at most 1.3 times the work.
"""

from __future__ import annotations

import os
import sys
import time
from dataclasses import replace
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

    took: dict[int, float] = {}
    for months in MONTHS:
        operations, seconds, found = _compared(months)
        took[operations] = seconds
        print(f"{operations} operations in one period: {seconds:.2f} s, {found} findings")
        if operations >= OPERATIONS:
            break
    fewest, most = min(took), max(took)
    growth = took[most] / most / (took[fewest] / fewest)
    print(f"{most / fewest:.1f} times the work in {took[most] / took[fewest]:.1f} times the time: growth {growth:.2f}")


def _compared(months: int) -> tuple[int, float, int]:
    """Operations of so many months taken as one period, seconds of processor to compare them, and findings."""
    from ledger.comparing.compare import compare
    from tests.simulator import simulate
    from tests.simulator.shortcut import short_log

    with TemporaryDirectory() as scratch:
        folder = Path(scratch)
        simulate(SEED, folder, size="large", month=MONTH, months=months)
        with short_log(folder, MONTH) as (log, site):
            whole = replace(log, in_period=None)
            best, found = float("inf"), 0
            for _ in range(2):
                started = time.process_time()
                found = len(compare(whole, site).findings)
                best = min(best, time.process_time() - started)
            return _operations(whole), best, found


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
