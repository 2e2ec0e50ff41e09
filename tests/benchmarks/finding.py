"""What finding costs: one month, and a month of 1,000 operations made from nothing.

Run from the root of the repository: `python tests/benchmarks/finding.py`. The month is a simulated one with its slips,
and clean ones laid beside it until there are a thousand operations, each with vessels of its own. Only ratios and
seconds of processor are printed; the aims are at most 1.5 seconds for the thousand, and a growth of at most 1.3 times
the work.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "distillery.settings")

from tests.running_site import Databases, run  # noqa: E402

if TYPE_CHECKING:
    from ledger.comparing.observations.observed import Log, Measured
    from ledger.comparing.search.remeasuring import Remeasure

OPERATIONS = 1000
MONTH = "2027-05"
SEED = 4


def main() -> None:
    import django

    django.setup()
    from distillery.plant.lookup import Plant
    from ledger.comparing.compare import compare
    from ledger.comparing.search.remeasuring import remeasure_at
    from tests.simulator import simulate
    from tests.simulator.shortcut import short_log

    with TemporaryDirectory() as scratch:
        logs = []
        for clean in (False, True):
            folder = Path(scratch) / ("clean" if clean else "faulty")
            folder.mkdir()
            simulate(SEED, folder, size="large", month=MONTH, clean=clean)
            with short_log(folder, MONTH) as (log, site):
                assert isinstance(site, Plant)
            logs.append(log)
        faulty, clean_log = logs
        operations = _operations(faulty)
        copies = -(-OPERATIONS // operations)
        measuring = _measuring(remeasure_at(site))
        laid = _side_by_side([faulty, *[clean_log] * (copies - 1)])
        alone = _best(lambda: compare(faulty, site).findings)
        many = _best(lambda: compare(laid, site, remeasure=measuring).findings)
    print(f"month of {operations} operations: {alone:.2f} s")
    print(
        f"month of {copies * operations} operations: {many:.2f} s, {many / alone:.1f} times as long for {copies} times "
        f"the work: growth {many / alone / copies:.2f}"
    )


def _operations(log: Log) -> int:
    return len({event.doing.record for event in log.events if log.judged(event.doing.record)})


def _measuring(original: Remeasure) -> Remeasure:
    """Measures a copy's vessel by the table of the vessel it was copied from."""

    def again(measured: Measured, parts: Mapping[str, float]) -> Measured:
        code = measured.vessel.partition("~")[0]
        return replace(original(replace(measured, vessel=code), parts), vessel=measured.vessel)

    return again


def _best(work: object, times: int = 2) -> float:
    best = float("inf")
    for _ in range(times):
        started = time.process_time()
        work()  # type: ignore[operator]
        best = min(best, time.process_time() - started)
    return best


def _side_by_side(logs: list[Log]) -> Log:
    """Logs beside one another: each has records and vessels of its own, measured by the same tables."""
    events, figures, judged = [], [], set()
    ends, casks, stills = {}, {}, set()

    def named(text: str, copy: int) -> str:
        return f"{text}~{copy}" if copy else text

    for copy, log in enumerate(logs):
        for event in log.events:
            doing = replace(event.doing, record=named(event.doing.record, copy))
            readings = tuple(
                replace(one, key=named(one.key, copy), record=named(one.record, copy))
                for one in event.measured.readings
            )
            measured = replace(
                event.measured,
                key=named(event.measured.key, copy),
                vessel=named(event.measured.vessel, copy),
                readings=readings,
            )
            if hasattr(event, "giver"):
                ways = {"giver": named(event.giver, copy), "taker": named(event.taker, copy)}
                events.append(replace(event, doing=doing, measured=measured, **ways))
            else:
                events.append(replace(event, doing=doing, measured=measured, vessel=named(event.vessel, copy)))
        for figure in log.figures:
            doing = replace(figure.doing, record=named(figure.doing.record, copy))
            parts = {named(key, copy): weight for key, weight in figure.parts.items()}
            figures.append(replace(figure, doing=doing, parts=parts))
        judged |= {named(record, copy) for record in log.in_period or ()}
        ends |= {named(code, copy): table for code, table in log.table_ends.items()}
        casks |= {named(code, copy): cask for code, cask in log.casks.items()}
        stills |= {named(code, copy) for code in log.stills}
    events.sort(key=lambda event: (event.at, event.position))
    return replace(
        logs[0],
        events=events,
        figures=figures,
        in_period=frozenset(judged),
        table_ends=ends,
        casks=casks,
        stills=frozenset(stills),
    )


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
