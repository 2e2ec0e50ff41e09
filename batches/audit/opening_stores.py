"""Opens the books of the stores for what was written before there were any, from the versions in the books."""

from __future__ import annotations

from batches.audit.proving_stores import records_apart
from batches.stores.writing import Short, keep_stock
from ledger.posting.turns import turn


def open_stores() -> tuple[int, list[str]]:
    """Brings the stores to what the records say, in the order things happened: how many records were written, and a
    sentence for each that a lot is too short for.
    """
    written, short = 0, []
    with turn():
        apart = sorted(records_apart(), key=lambda one: (one.record.happened_from, one.record.pk))
        for one in apart:
            try:
                keep_stock(one.record, one.version, one.lines)
            except Short as error:
                short.append(f"{one.record.number}: {error}")
                break
            written += 1
    return written, short
