"""What a workbook of many casks costs: `python -m tests.benchmarks.bringing_in --casks 10000`.

Makes the workbook, tries it and brings it into an empty SQLite database, each in a process of its own, and prints
seconds passed, seconds of processor and the most memory that each took. Passes or fails nothing.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.running_site import ROOT, environment

KINDS = (("barrel", 200, 46.6, 223.4), ("hogshead", 250, 58.2, 279.5), ("butt", 500, 107.0, 549.0))


def make(path: Path, casks: int) -> None:
    """A workbook of so many full casks in ten warehouses, and as many empty ones as a tenth of them."""
    from openpyxl import Workbook

    from batches.loading.workbook.sheets import CASKS, MARK

    book = Workbook(write_only=True)
    page = book.create_sheet(CASKS.title)
    page.append([MARK, *(column.head for column in CASKS.columns)])
    for number in range(casks):
        kind, litres, tare, gross = KINDS[number % len(KINDS)]
        place = f"{1 + number % 10}A"
        page.append(
            [
                *("", f"{2010 + number % 12}/{number:05d}", kind, 1 + number % 3, litres, place),
                *(f"{2010 + number % 12}-{1 + number % 12:02d}-{1 + number % 28:02d} 09:00", tare, gross, 63.5),
                *(f"R{1 + number % 40}", f"{1 + number % 3}", "american oak", "", "", "", ""),
            ]
        )
    for number in range(casks // 10):
        page.append(["", f"E/{number:05d}", "hogshead", 2, 250, "9A", "", "", "", "", "", "", "", "", "", "", ""])
    book.save(path)


def one(database: str, *arguments: str) -> dict[str, float]:
    """What one command of the program took."""
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
    done = subprocess.run(
        [sys.executable, "-c", _MEASURED, *arguments],
        cwd=ROOT,
        env=environment(database),
        capture_output=True,
        text=True,
        check=False,
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stdout.splitlines()[-1])
    return {
        "seconds": time.monotonic() - began,
        "processor": after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime,
        "megabytes": said["kilobytes"] / 1000,
    }


_MEASURED = """
import json, os, resource, sys
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "distillery.settings")
import django
django.setup()
from django.core.management import call_command
call_command(*sys.argv[1:])
print()
print(json.dumps({"kilobytes": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss}))
"""


def main() -> None:
    """Prints what each step took."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--casks", type=int, default=10_000)
    casks = parser.parse_args().casks
    with TemporaryDirectory() as folder:
        database = f"sqlite:///{Path(folder) / 'site.sqlite3'}"
        workbook = Path(folder) / "casks.xlsx"
        make(workbook, casks)
        print(f"{casks:,} full casks, {workbook.stat().st_size / 1e6:.1f} MB, load {os.getloadavg()[0]:.1f}")
        one(database, "migrate", "-v0")
        for name, arguments in (
            ("tried", ["bring_in", str(workbook)]),
            ("brought in", ["bring_in", str(workbook), "--write"]),
            ("once more", ["bring_in", str(workbook), "--write"]),
        ):
            took = one(database, *arguments)
            print(
                f"{name:12} {took['seconds']:6.1f} s passed, {took['processor']:6.1f} s of processor, "
                f"{took['megabytes']:5.0f} MB"
            )


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "distillery.settings")
    import django

    django.setup()
    main()
