"""What finding costs: one month, and a month of 1,000 operations made from nothing.

Run from the root of the repository: `python tests/benchmarks/finding.py`. Simulated months of large sites, the first
with its slips and the others clean, are laid beside one another until there are a thousand operations, each with
vessels of its own. Only ratios and
seconds of processor are printed; the aims are at most 1.5 seconds for the thousand, and a growth of at most 1.3 times
the work.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Mapping, Sequence
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

    logs: list[Log] = []
    measuring: list[Remeasure] = []
    with TemporaryDirectory() as scratch:
        while sum(map(_operations, logs)) < OPERATIONS:
            folder = Path(scratch) / str(len(logs))
            folder.mkdir()
            simulate(SEED + len(logs), folder, size="large", month=MONTH, clean=bool(logs))
            with short_log(folder, MONTH) as (log, site):
                assert isinstance(site, Plant)
            logs.append(log)
            measuring.append(remeasure_at(site))
        laid = _side_by_side(logs)
        alone = [
            _best(lambda log=log, again=again: compare(log, site, remeasure=again))
            for log, again in zip(logs, measuring, strict=True)
        ]
        many = _best(lambda: compare(laid, site, remeasure=_measuring(measuring)))
    for log, seconds in zip(logs, alone, strict=True):
        print(f"month of {_operations(log)} operations: {seconds:.2f} s")
    together = sum(map(_operations, logs))
    print(f"{together} operations in one month: {many:.2f} s, {many / sum(alone):.2f} times what they are one by one")


def _operations(log: Log) -> int:
    return len({event.doing.record for event in log.events if log.judged(event.doing.record)})


def _measuring(of_each: Sequence[Remeasure]) -> Remeasure:
    """Measures each copy's vessels by the tables of the plant it came from."""

    def again(measured: Measured, parts: Mapping[str, float]) -> Measured:
        code, _, copy = measured.vessel.partition("~")
        remeasure = of_each[int(copy or 0)]
        return replace(remeasure(replace(measured, vessel=code), parts), vessel=measured.vessel)

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
