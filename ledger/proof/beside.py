"""How a process that proves beside another begins: it makes the program ready, and reads what the other reads.

It is loaded before the program is ready, so it names no model.
"""

from __future__ import annotations

from multiprocessing.synchronize import Barrier
from typing import Final

LONGEST_START_S: Final = 60.0


def begin_to_read(name: str, snapshot: str, barrier: Barrier | None) -> None:
    """Begins to read the database of this name, as a snapshot has it or when all are at the barrier."""
    import django

    django.setup()
    from django.db import DEFAULT_DB_ALIAS, connections

    from ledger.proof.one_state import begin_to_see

    own = connections[DEFAULT_DB_ALIAS]
    own.settings_dict["NAME"] = name
    if barrier is not None:
        # All are ready, then nobody writes, then all have begun.
        barrier.wait(LONGEST_START_S)
        barrier.wait(LONGEST_START_S)
    # It ends with the process.
    begin_to_see(own, snapshot=snapshot)
    if barrier is not None:
        barrier.wait(LONGEST_START_S)


def nothing() -> None:
    """What a process is asked for only so that it begins."""
