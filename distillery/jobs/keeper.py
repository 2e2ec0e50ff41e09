"""While the site is served, somebody looks now and then whether long work was left, and whether results are old."""

from __future__ import annotations

import logging
import threading
from types import TracebackType
from typing import Final

from django.db import DatabaseError, connection

from distillery.database.retrying import Busy
from distillery.jobs.files import forget_old, remove_old
from distillery.jobs.starting import start

LOOK_EVERY_S: Final = 15.0

log = logging.getLogger(__name__)


class LongWorkKeeper:
    """While it is entered, a thread of its own takes up what was left: at the start, and every quarter of a minute."""

    def __init__(self, *, every_s: float = LOOK_EVERY_S) -> None:
        self._every_s = every_s
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._keep, name="long work", daemon=True)

    def __enter__(self) -> LongWorkKeeper:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stop.set()
        self._thread.join()

    def _keep(self) -> None:
        self._look()
        while not self._stop.wait(self._every_s):
            self._look()
        connection.close()

    def _look(self) -> None:
        try:
            start()
            remove_old()
            forget_old()
        except (DatabaseError, Busy, OSError) as error:
            # The next look tries again; serving goes on.
            log.warning("Long work could not be looked after: %s", error)
            connection.close()
