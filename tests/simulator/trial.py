"""python -m tests.simulator.trial --months 200 --seed 1 [--long] [--clean] [--processes 2] [--folder FOLDER]

Simulates random months, asks the program for the findings of each and marks them against what had been planted. Prints
how much was found and named, false findings a month, runs until a leak was signalled, and the spread of the whitened
residuals. Every third month has nothing planted, so that false findings are counted where nothing is wrong too.

The short way (see `shortcut`) reads, gauges and compares every row as the program does, but posts nothing. With
`--long` each month is loaded into a database of its own by the program's own command and its findings asked there: the
whole way, some ten times slower.
"""

import argparse
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from . import SIZES, simulate
from .answers import Answer, Marked, mark
from .judging import rows_of

ROOT = Path(__file__).resolve().parents[2]
MONTH = "2027-05"
# Runs within which a leak of this share of the charge has to be signalled.
WANTED = {"spirit leak": (0.009, 3), "wash leak": (0.008, 16)}

# Asked inside the program, so that the whitened values come with the findings.
_ASK = """
import json
from distillery.plant.lookup import Plant
from ledger.comparing.health import month_health
from ledger.comparing.month import compare_month
from ledger.management.commands.findings import as_data
month = compare_month(PERIOD, Plant())
print("MARK" + json.dumps({"found": [as_data(one) for one in month.findings], "whitened": month_health(month)}))
"""


@dataclass
class Tried:
    """One month tried: its seed and size, whether nothing was planted, marks, and its whitened residuals' spread."""

    seed: int
    size: str
    clean: bool
    marked: Marked
    spread: float
    runs: dict[str, int]


def try_month(seed: int, clean: bool, empty: str, *, long: bool, kept: str | None = None) -> Tried:
    """Simulates, compares and marks one month."""
    size = SIZES[seed // 3 % len(SIZES)]
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(kept or scratch) / f"month-{seed}"
        folder.mkdir(parents=True, exist_ok=True)
        truth = simulate(seed, folder, size=size, clean=clean, month=MONTH)
        answer = _the_long_way(folder, Path(scratch), empty) if long else _the_short_way(folder)
        regauges = {row["cask"]: row["regauge"] for row in rows_of(folder / "log", "regauges")}
        runs = {
            "spirit leak": len(rows_of(folder / "log", "spirit_runs")),
            "wash leak": len(rows_of(folder / "log", "wash_runs")),
        }
    marked = mark(truth["planted"], answer["found"], regauges)
    return Tried(seed, size, clean, marked, float(answer["whitened"]["standard_deviation"]), runs)


def _the_long_way(folder: Path, scratch: Path, empty: str) -> dict[str, Any]:
    database = scratch / "month.sqlite3"
    shutil.copy(empty, database)
    for words in (("load_month", str(folder)), ("shell", "-c", _ASK.replace("PERIOD", repr(MONTH)))):
        said = _manage(database, *words)
        if said.returncode:
            raise RuntimeError(f"{folder}: {said.stdout}{said.stderr}")
    answer: dict[str, Any] = json.loads(said.stdout.split("MARK", 1)[1])
    return answer


def _the_short_way(folder: Path) -> dict[str, Any]:
    from ledger.comparing.health import month_health
    from ledger.management.commands.findings import as_data

    from .shortcut import short_month

    month = short_month(folder, MONTH)
    return {"found": [as_data(one) for one in month.findings], "whitened": month_health(month)}


def _start(empty: str, long: bool) -> None:
    """Each process has a database of its own, for the plant."""
    if long:
        return
    own = Path(empty).with_name(f"plant-{os.getpid()}.sqlite3")
    shutil.copy(empty, own)
    os.environ |= {"DATABASE_URL": f"sqlite:///{own}", "DJANGO_SETTINGS_MODULE": "distillery.settings"}
    import django

    django.setup()


def _manage(database: Path, *words: str) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "DATABASE_URL": f"sqlite:///{database}", "DJANGO_SETTINGS_MODULE": "distillery.settings"}
    return subprocess.run([sys.executable, "manage.py", *words], cwd=ROOT, env=env, capture_output=True, text=True)


def table(tried: Sequence[Tried]) -> str:
    """The result as a table of plain text."""
    answers = [answer for one in tried for answer in one.marked.answers]
    kinds: dict[str, list[Answer]] = defaultdict(list)
    for answer in answers:
        kinds[answer.kind].append(answer)
    slips = [answer for answer in answers if answer.kind not in ("cask leak", "spirit leak", "wash leak")]
    lines = [
        f"{len(tried)} months, {sum(one.clean for one in tried)} of them clean; {len(answers)} planted faults.",
        "",
        "| planted | number | found | named in the first line | first of it | alone |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for kind, some in [*sorted(kinds.items()), ("all slips", slips)]:
        counts = (len(some), *(sum(getattr(one, name) for one in some) for name in ("found", "in_first_line")))
        heads = (sum(one.at_its_head for one in some), sum(one.alone for one in some))
        lines.append(f"| {kind} | {' | '.join(str(count) for count in (*counts, *heads))} |")
    lines += ["", *_leaks(kinds), *_false(tried)]
    spreads = [one.spread for one in tried if one.clean]
    if spreads:
        lines.append(
            f"Spread of whitened residuals in clean months: mean {statistics.fmean(spreads):.3f}, "
            f"from {min(spreads):.2f} to {max(spreads):.2f}."
        )
    return "\n".join(lines)


def _leaks(kinds: dict[str, list[Answer]]) -> Iterable[str]:
    for kind, (share, runs) in WANTED.items():
        some = [one for one in kinds.get(kind, []) if one.share >= share]
        signalled = [one for one in some if one.runs_to_signal is not None]
        soon = sum((one.runs_to_signal or 0) <= runs for one in signalled)
        ranges = sum(bool(one.range_holds_onset) for one in signalled)
        ratios = [one.share_ratio for one in signalled if one.share_ratio is not None]
        yield (
            f"{kind} of {100 * share:.1f} % or more: {len(some)}, signalled {len(signalled)}, "
            f"within {runs} runs {soon}, onset within the range {ranges}, "
            f"share found over share lost {_about(ratios)}, "
            f"runs to the signal {sorted(one.runs_to_signal or 0 for one in signalled)}."
        )


def _about(values: Sequence[float]) -> str:
    return f"{statistics.median(values):.2f} (median)" if values else "-"


def _false(tried: Sequence[Tried]) -> Iterable[str]:
    for name, clean in (("clean", True), ("faulty", False)):
        some = [one for one in tried if one.clean is clean]
        if some:
            total = sum(len(one.marked.false) for one in some)
            again = sum(one.marked.gauge_again for one in some)
            yield (
                f"False findings in {len(some)} {name} months: {total} ({total / len(some):.2f} a month); "
                f"gauge again {again}."
            )


def main() -> None:
    parser = argparse.ArgumentParser(prog="tests.simulator.trial", description="Tries the findings on random months.")
    parser.add_argument("--months", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--long", action="store_true", help="load every month through the program's own command")
    parser.add_argument("--clean", action="store_true", help="plant nothing in any month")
    parser.add_argument("--folder", help="keep the tables of the months here")
    asked = parser.parse_args()
    seeds = range(asked.seed, asked.seed + asked.months)
    with tempfile.TemporaryDirectory() as scratch:
        empty = Path(scratch) / "empty.sqlite3"
        made = _manage(empty, "migrate", "-v0")
        if made.returncode:
            raise SystemExit(made.stderr)
        with ProcessPoolExecutor(asked.processes, initializer=_start, initargs=(str(empty), asked.long)) as pool:
            waiting = [
                pool.submit(
                    try_month, seed, asked.clean or seed % 3 == 0, str(empty), long=asked.long, kept=asked.folder
                )
                for seed in seeds
            ]
            tried = []
            for one in waiting:
                month = one.result()
                tried.append(month)
                _say(month)
    print(table(tried))


def _say(month: Tried) -> None:
    missed = [one for one in month.marked.answers if not one.at_its_head]
    if month.marked.false or missed:
        print(f"seed {month.seed} ({month.size}{', clean' if month.clean else ''}):", flush=True)
    for text in month.marked.false:
        print(f"  false: {text}", flush=True)
    for one in missed:
        state = "in the first line" if one.in_first_line else "found" if one.found else "not found"
        runs = f", signalled after {one.runs_to_signal} runs" if one.runs_to_signal else ""
        print(f"  {one.kind} {one.what} {one.share or ''}: {state}{runs}", flush=True)


if __name__ == "__main__":
    main()
