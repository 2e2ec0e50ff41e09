"""One process or several: the proof says the same, in the same order, of books that hold and of books that do not."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from typing import Any

import pytest

from tests.running_site import Databases, execute, run_alone, sqlite_file

# Values forged in stretches of the chain that lie apart, and in what other processes prove.
FORGED = (
    "UPDATE ledger_leg SET pure_ul = pure_ul + 1 WHERE id IN (5, 900, 1700)",
    "UPDATE ledger_movement SET reason = 'x' WHERE id IN (140, 141, 142, 283, 284, 425)",
    "UPDATE ledger_movement SET seal = '0' || substr(seal, 2) WHERE id IN (141, 300)",
    "UPDATE ledger_runningbalance SET balance_ul = balance_ul + 1 WHERE leg_id IN (40, 950)",
    "UPDATE ledger_accountmonth SET mass_g = mass_g + 1 WHERE id = 1",
    "UPDATE plant_vessel SET code = 'X' || code WHERE id = 3",
    "UPDATE batches_version SET reason = 'x' WHERE id = 7",
    "UPDATE seals_booksseal SET entry = entry - 1 WHERE number = 2",
)


def take_triggers_away(database: str) -> None:
    if database.startswith("sqlite"):
        with closing(sqlite3.connect(sqlite_file(database))) as file:
            triggers = file.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        execute(database, *(f"DROP TRIGGER {name}" for (name,) in triggers))
        return
    tables = {statement.split()[1] for statement in FORGED}
    execute(database, *(f"ALTER TABLE {table} DISABLE TRIGGER USER" for table in sorted(tables)))


def proved(database: str, processes: int) -> dict[str, Any]:
    done = run_alone(database, "verify_ledger", "--json", "--processes", str(processes))
    assert not done.stderr, done.stderr
    told: dict[str, Any] = json.loads(done.stdout)
    assert done.returncode == (0 if told["holds"] else 1)
    return told


@pytest.mark.long
def test_several_processes_say_what_one_says(demo_database: str, databases: Databases) -> None:
    database = databases.copy_of(demo_database)
    alone = proved(database, 1)
    assert alone["holds"]
    assert proved(database, 3) == alone
    take_triggers_away(database)
    execute(database, *FORGED)
    alone = proved(database, 1)
    assert len(alone["broken"]) > 20
    assert proved(database, 3) == alone
