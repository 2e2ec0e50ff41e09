"""Which triggers stand on the ledger's tables, and how they are put there.

Facts cannot be changed or removed. Sums can be written by the triggers that add them up and by nobody
else. Legs come before their movement (the foreign key is checked at commit), so that the arrival of the
movement is the moment at which its legs must sum to nothing and after which it takes no more.
"""

from __future__ import annotations

from pathlib import Path

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database.guards import Guard, append_only, from_file, no_replacing

SQL = Path(__file__).parent / "sql"

FACTS = (
    "ledger_account",
    "ledger_movement",
    "ledger_leg",
    "ledger_measurement",
    "ledger_figure",
    "ledger_duty",
    "ledger_stockperiod",
    "ledger_closerequest",
    "ledger_closing",
    "ledger_closingbalance",
    "ledger_enquiry",
    "ledger_enquiryevent",
    "ledger_enquiryrun",
    "ledger_comparisonoutcome",
)
SUMS = ("ledger_balance", "ledger_runningbalance", "ledger_accountmonth", "ledger_stagemonth")
WRITTEN = (
    ("ledger_leg", "leg_once_sealed"),
    ("ledger_leg", "leg_adds_up"),
    ("ledger_movement", "movement_balances"),
    ("ledger_movement", "movement_by_stage"),
)
# The end of the chain moves on with the chain, and only so.
HEAD = "ledger_head"
# Triggers of closed periods, each with a table it reads beside its own.
CLOSED = (
    ("ledger_leg", "leg_in_open_period", "ledger_closing"),
    ("ledger_movement", "movement_in_open_period", "ledger_closing"),
    ("ledger_closing", "closing_in_order", "ledger_closing"),
    ("ledger_closing", "closing_by_two", "ledger_closerequest"),
    ("ledger_closingbalance", "closing_balance_once_closed", "ledger_closing"),
)


def only_by_trigger(table: str, *, vendor: str) -> list[Guard]:
    """Guards of a table of sums: only the triggers that add up may write it."""
    message = f"{table} is added up from the legs: post a movement instead"
    if vendor == "sqlite":
        return [
            Guard(
                table,
                f"{table}_hands_off_{act}",
                (
                    f"CREATE TRIGGER {table}_hands_off_{act} BEFORE {act.upper()} ON {table} "
                    f"WHEN NOT EXISTS (SELECT 1 FROM ledger_hand) "
                    f"BEGIN SELECT RAISE(ABORT, '{message}'); END",
                ),
            )
            for act in ("insert", "update", "delete")
        ]
    function = f"{table}_hands_off"
    make = (
        f"CREATE OR REPLACE FUNCTION {function}() RETURNS trigger LANGUAGE plpgsql AS $$ "
        f"BEGIN IF pg_trigger_depth() < 2 THEN RAISE EXCEPTION '{message}' USING ERRCODE = 'restrict_violation'; "
        f"END IF; RETURN COALESCE(NEW, OLD); END $$"
    )
    guards = [
        Guard(
            table,
            f"{table}_hands_off_{act}",
            (
                make,
                f"CREATE TRIGGER {table}_hands_off_{act} BEFORE {act.upper()} ON {table} "
                f"FOR EACH ROW EXECUTE FUNCTION {function}()",
            ),
        )
        for act in ("insert", "update", "delete")
    ]
    truncate = f"{table}_hands_off_truncate"
    guards.append(
        Guard(
            table,
            truncate,
            (
                make,
                f"CREATE TRIGGER {truncate} BEFORE TRUNCATE ON {table} "
                f"FOR EACH STATEMENT EXECUTE FUNCTION {function}()",
            ),
        )
    )
    return guards


def ledger_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """Every trigger the ledger needs on this engine."""
    vendor = connection.vendor
    guards: list[Guard] = []
    for table in FACTS:
        guards += append_only(table, vendor=vendor)
    for table in SUMS:
        guards += only_by_trigger(table, vendor=vendor)
    for table, name in WRITTEN:
        guards.append(from_file(SQL / vendor, name, table=table, name=f"ledger_{name}"))
    for name in ("head_is_kept", "head_follows_the_chain"):
        guards.append(from_file(SQL / vendor, name, table=HEAD, name=f"ledger_{name}", needs=("ledger_movement",)))
    guards += no_replacing(HEAD, vendor=vendor)
    for table, name, read in CLOSED:
        guards.append(from_file(SQL / vendor, name, table=table, name=f"ledger_{name}", needs=(read,)))
    return guards
