"""Which of this floor's tables keep what was written, and the triggers that see to it on both engines."""

from __future__ import annotations

from pathlib import Path

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database.guards import Guard, append_only, from_file, no_replacing

SQL = Path(__file__).parent / "sql"

FACTS = ("batches_version", "batches_reading", "batches_sending", "batches_posted", "batches_signature")


def batches_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """All guards of the batch records on this engine."""
    vendor = "sqlite" if connection.vendor == "sqlite" else "postgresql"
    guards = [guard for table in FACTS for guard in append_only(table, vendor=vendor)]
    guards += [
        from_file(SQL / vendor, name, table="batches_record", name=f"batches_{name}")
        for name in ("record_is_kept", "record_keeps_its_number")
    ]
    clock = from_file(
        SQL / vendor,
        "clock_in_empty_books",
        table="clock_booksclock",
        name="batches_clock_in_empty_books",
        needs=("batches_record", "ledger_movement"),
    )
    guards += no_replacing("batches_record", vendor=vendor, on_update=True)
    guards += no_replacing("batches_series", vendor=vendor)
    return [*guards, clock]
