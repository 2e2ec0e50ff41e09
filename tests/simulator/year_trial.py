"""python -m tests.simulator.year_trial --seeds 20 [--first 3001] [--processes 2]

Works years at Harrowmere through, asks the program for the findings of each month and marks them against the two
troubles of the year. The short way (see `shortcut`): every row is read, gauged and compared, and nothing is posted.
"""

import argparse
import shutil
import tempfile
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from .answers import RAISED
from .trial import _manage, _start


@dataclass
class TriedYear:
    """One year tried: what of its troubles was found, in which month and after how many runs, and what else was."""

    seed: int
    share: float = 0.0
    runs_to_signal: int | None = None
    share_found: float | None = None
    onset_in_range: bool = False
    signalled_in: str = ""
    months_watched: int = 0
    short_share: float = 0.0
    short_found: bool = False
    false: list[str] = field(default_factory=list)
    gauge_again: int = 0


def try_year(seed: int) -> TriedYear:
    """Works one year through and marks the findings of its months."""
    from .shortcut import month_of, short_load
    from .year import months, work_year
    from .year.tables import write_year_whole

    year, truth = work_year(seed)
    with tempfile.TemporaryDirectory() as scratch:
        write_year_whole(year, Path(scratch))
        with short_load(Path(scratch)) as load:
            found = {month: list(month_of(load, month).findings) for month in months()}
    return mark_year(seed, truth["planted"], found)


def mark_year(seed: int, planted: Sequence[dict[str, Any]], found: dict[str, list[Any]]) -> TriedYear:
    """Marks the findings of each month, as the program's own objects, against the troubles of the year."""
    from ledger.management.commands.findings import as_data

    return mark_found(seed, planted, {month: [as_data(one) for one in some] for month, some in found.items()})


def mark_found(seed: int, planted: Sequence[dict[str, Any]], found: dict[str, list[dict[str, Any]]]) -> TriedYear:
    """Marks the findings of each month, as the command prints them, against the troubles of the year."""
    tried = TriedYear(seed)
    leak = next((one for one in planted if "leak" in one), None)
    short = next((one["short_delivery"] for one in planted if "short_delivery" in one), "")
    tried.short_share = next((one["share"] for one in planted if "short_delivery" in one), 0.0)
    tried.share = leak["share"] if leak else 0.0
    for month, findings in found.items():
        for one in findings:
            tried.gauge_again += one["kind"] == "gauge again"
            if one["kind"] not in RAISED:
                continue
            if leak and one["kind"] == "watch" and one["operation"] == "wash run":
                run = int(one["record"][2:])
                if run >= leak["from_n"]:
                    _note_watch(tried, month, one, leak, run)
                    continue
            if short and short in (one["record"], *one["explains"]):
                tried.short_found = True
                continue
            tried.false.append(
                f"{month} {one['kind']} {one['record']} {one['operation']} {one['difference_lpa']:.1f} LPA: "
                + "; ".join(cause["cause"] for cause in one["likely"][:1])
            )
    return tried


def _note_watch(tried: TriedYear, month: str, one: dict[str, Any], leak: dict[str, Any], run: int) -> None:
    tried.months_watched += 1
    if tried.signalled_in:
        return
    tried.signalled_in = month
    tried.runs_to_signal = run - leak["from_n"] + 1
    tried.share_found = one["share"] / leak["share"]
    earliest, latest = (int(record[2:]) for record in one["since"])
    tried.onset_in_range = earliest <= leak["from_n"] <= latest


def table(tried: Sequence[TriedYear]) -> str:
    """The result as a table of plain text."""
    lines = [
        f"{len(tried)} years of twelve months, each with two troubles.",
        "",
        "| seed | loss at the wash still | signalled in | after runs | share found over lost | short delivery | found "
        "| false | gauge again |",
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for one in tried:
        ratio = f"{one.share_found:.2f}" if one.share_found is not None else "-"
        lines.append(
            f"| {one.seed} | {100 * one.share:.2f} % | {one.signalled_in or '-'} | {one.runs_to_signal or '-'} "
            f"| {ratio} | {100 * one.short_share:.2f} % | {'yes' if one.short_found else 'no'} "
            f"| {len(one.false)} | {one.gauge_again} |"
        )
    signalled, short = sum(bool(one.signalled_in) for one in tried), sum(one.short_found for one in tried)
    false = sum(len(one.false) for one in tried)
    lines += [
        "",
        f"Losses signalled {signalled} of {len(tried)}, short deliveries found {short} of {len(tried)}; "
        f"false findings {false} in {12 * len(tried)} months.",
    ]
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(prog="tests.simulator.year_trial", description="Tries the findings on years.")
    parser.add_argument("--seeds", type=int, default=20)
    parser.add_argument("--first", type=int, default=3001)
    parser.add_argument("--processes", type=int, default=2)
    asked = parser.parse_args()
    scratch = Path(tempfile.mkdtemp())
    try:
        empty = scratch / "empty.sqlite3"
        made = _manage(empty, "migrate", "-v0")
        if made.returncode:
            raise SystemExit(made.stderr)
        with ProcessPoolExecutor(asked.processes, initializer=_start, initargs=(str(empty), False)) as pool:
            tried = []
            for one in pool.map(try_year, range(asked.first, asked.first + asked.seeds)):
                tried.append(one)
                print(f"seed {one.seed}: {one.signalled_in or 'no loss signalled'}, {len(one.false)} false", flush=True)
                for text in one.false:
                    print(f"  false: {text}", flush=True)
    finally:
        shutil.rmtree(scratch, ignore_errors=True)
    print(table(tried))


if __name__ == "__main__":
    main()
