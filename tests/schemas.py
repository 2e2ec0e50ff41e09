"""Writes a small site of today's schema into tests/data/schemas/, where every later version must be able to take it up.

    .venv/bin/python -m tests.schemas 2026-11

writes `2026-11.sql.xz`: the statements that make the SQLite database, compressed. A few records of the sample month are
in it, signed and sealed by the program of that day. Once released a file is never written again; who releases another
form of the tables adds one.
"""

from __future__ import annotations

import csv
import lzma
import shutil
import sqlite3
import sys
import tempfile
from contextlib import closing
from pathlib import Path

from tests.running_site import ROOT, run_alone

FOLDER = ROOT / "tests" / "data" / "schemas"
MONTH = ROOT / "fixtures" / "sample-month"
# How many rows of each table are enough; whole tables of what others stand on, and none of what is not named.
ROWS = {
    "plant/vessels": None,
    "plant/calibration": None,
    "plant/instruments": None,
    "plant/recipes": None,
    "plant/empty_casks": 3,
    "log/opening_stock": None,
    "log/intake": 3,
    "log/mashes": 3,
    "log/fermentations": 3,
    "log/wash_runs": 2,
    "log/spirit_runs": 0,
}


def small_month(folder: Path) -> None:
    """The first rows of the sample month, as `load_month` reads them."""
    for name, most in ROWS.items():
        target = folder / f"{name}.csv"
        target.parent.mkdir(parents=True, exist_ok=True)
        with (MONTH / f"{name}.csv").open(encoding="utf-8", newline="") as source, target.open("w", newline="") as out:
            rows = list(csv.reader(source))
            csv.writer(out).writerows(rows[: None if most is None else most + 1])


def statements(file: Path) -> bytes:
    """A database as the statements that make it."""
    with closing(sqlite3.connect(file)) as database:
        return "\n".join(database.iterdump()).encode()


def put_back(name: str, file: Path) -> None:
    """Makes the database that a file in tests/data/schemas/ holds."""
    with closing(sqlite3.connect(file)) as database:
        database.executescript(lzma.decompress((FOLDER / name).read_bytes()).decode())


def main(name: str) -> None:
    """Makes a site, writes some records and the file."""
    target = FOLDER / f"{name}.sql.xz"
    if target.exists():
        raise SystemExit(f"{target} is there, and is never written again.")
    made = Path(tempfile.mkdtemp())
    try:
        url = f"sqlite:///{made / 'site.sqlite3'}"
        small_month(made / "month")
        script = (
            "from distillery.management.demonstration import invite; invite();"
            "from django.core.management import call_command;"
            f"call_command('load_month', {str(made / 'month')!r}, person='brodie', second='isla')"
        )
        for command in (["migrate", "--verbosity", "0"], ["shell", "--no-imports", "-c", script], ["verify_ledger"]):
            done = run_alone(url, *command)
            if done.returncode:
                raise SystemExit(done.stdout + done.stderr)
            print(done.stdout)
        FOLDER.mkdir(exist_ok=True)
        target.write_bytes(lzma.compress(statements(made / "site.sqlite3"), preset=9))
        print(f"{target}: {target.stat().st_size} bytes")
    finally:
        shutil.rmtree(made)


if __name__ == "__main__":
    main(*sys.argv[1:])
