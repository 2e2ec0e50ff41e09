"""Several processes that read one state of the books, each with a connection of its own.

On PostgreSQL the snapshot of the first connection is handed to the others. SQLite hands none on, so all begin to read
while the lock of writing is held for a moment: nobody can write in between, and what is written later none of them
sees. Within a transaction that is going on, and of a database in memory, there is one process.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import ExitStack, contextmanager
from multiprocessing import get_context
from multiprocessing.synchronize import Barrier
from threading import BrokenBarrierError
from typing import Final

from django.db import connection
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Max

from distillery.trail.claims import last_entry
from ledger.models import Movement
from ledger.proof.beside import LONGEST_START_S, begin_to_read, nothing
from ledger.proof.one_state import exported_snapshot, one_state

# Movements and entries of the trail together. Proving takes about 42 microseconds of processor for each of either (a
# movement without a record, an entry with all that a record has besides), and two processes take 1.5 s more than one to
# begin. On two cores, work of W seconds so lasts 0.9 + W / 2, which is shorter from about 1.8 s on.
WORTH_IT: Final = 40_000
MOST: Final = 8


def as_many_as_help() -> int:
    """How many processes are worth while: one for each core, where the books are large enough."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    if cores == 1:
        return 1
    movements = Movement.objects.aggregate(last=Max("pk"))["last"] or 0
    return min(cores, MOST) if movements + last_entry() >= WORTH_IT else 1


@contextmanager
def reading_together(count: int) -> Iterator[ProcessPoolExecutor | None]:
    """A pool of so many processes that see what this one sees; None where one process has to do it alone."""
    if count < 2 or connection.in_atomic_block or _in_memory(connection):
        with one_state(connection):
            yield None
        return
    with ExitStack() as ending:
        pool = _on_sqlite(count, ending) if connection.vendor == "sqlite" else _on_postgresql(count, ending)
        yield pool


def _on_postgresql(count: int, ending: ExitStack) -> ProcessPoolExecutor | None:
    ending.enter_context(one_state(connection))
    pool = ending.enter_context(_pool(count, exported_snapshot(connection), None))
    try:
        for one in [pool.submit(nothing) for _ in range(count)]:
            one.result(LONGEST_START_S)
    except (BrokenProcessPool, TimeoutError):
        return None
    return pool


def _on_sqlite(count: int, ending: ExitStack) -> ProcessPoolExecutor | None:
    barrier = get_context("spawn").Barrier(count + 1)
    pool = ending.enter_context(_pool(count, "", barrier))
    reading = ending.enter_context(ExitStack())
    try:
        # Begins them all; each waits until the others are there, and none waits for one that cannot begin.
        for _ in range(count):
            pool.submit(nothing).add_done_callback(lambda done: barrier.abort() if done.exception() else None)
        barrier.wait(LONGEST_START_S)
        with _nobody_writes():
            reading.enter_context(one_state(connection))
            barrier.wait(LONGEST_START_S)
            barrier.wait(LONGEST_START_S)
    except (BrokenBarrierError, BrokenProcessPool):
        reading.close()
        ending.enter_context(one_state(connection))
        return None
    return pool


@contextmanager
def _nobody_writes() -> Iterator[None]:
    other = connection.copy()
    try:
        with other.cursor() as cursor:
            cursor.execute("BEGIN IMMEDIATE")
            yield
            cursor.execute("ROLLBACK")
    finally:
        other.close()


def _pool(count: int, snapshot: str, barrier: Barrier | None) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(
        count,
        mp_context=get_context("spawn"),
        initializer=begin_to_read,
        initargs=(str(connection.settings_dict["NAME"]), snapshot, barrier),
    )


def _in_memory(connection: BaseDatabaseWrapper) -> bool:
    return bool(connection.vendor == "sqlite" and connection.is_in_memory_db())  # type: ignore[attr-defined]
