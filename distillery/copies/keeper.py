"""While the site is served, a copy is taken each night, or as soon as the server is started after one was missed."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from types import TracebackType
from typing import Final

from django.db import DatabaseError, connection
from django.utils import timezone

from distillery.clock.reading import site_day
from distillery.copies.keeping import keep_copy, kept_copies, newest
from distillery.copies.room import short_of_room
from distillery.health.asked import NEWEST_COPY
from distillery.management.copies import CopyRefused
from distillery.seals.lookup import last_seal_if_any

LOOK_EVERY_S: Final = 60.0
# By the site's clock: after a late shift and before an early one. Our own.
FROM_HOUR: Final = 2
TRY_AGAIN_S: Final = 3600.0


def is_due(taken: Iterable[datetime], now: datetime) -> bool:
    """Whether a copy is to be taken now, if there are some of these moments: one each day, from two at night on."""
    # Not the newest alone: where the clock was ahead for a while, its copies are newer than today's.
    return timezone.localtime(now).hour >= FROM_HOUR and site_day(now) not in {site_day(at) for at in taken}


def newest_made() -> datetime | None:
    """When the newest copy was made; None while there is none."""
    found = newest(connection)
    return None if found is None else found.at


class CopiesKeeper:
    """While it is entered, a thread of its own looks once a minute whether a copy is due.

    What cannot be written is said, once in an hour, and tried again; serving goes on.
    """

    def __init__(self, *, warn: Callable[[str], object], every_s: float = LOOK_EVERY_S) -> None:
        self._warn = warn
        self._every_s = every_s
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._keep, name="copies", daemon=True)
        self._not_before: datetime | None = None

    def __enter__(self) -> CopiesKeeper:
        NEWEST_COPY.append(newest_made)
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stop.set()
        NEWEST_COPY.remove(newest_made)
        self._thread.join()

    def _keep(self) -> None:
        self.look()
        while not self._stop.wait(self._every_s):
            self.look()
        connection.close()

    def look(self) -> None:
        """Takes a copy where one is due, and says what stands in its way."""
        now = timezone.now()
        if self._not_before and now < self._not_before:
            return
        if not is_due((one.at for one in kept_copies(connection)), now):
            return
        said: list[str] = []
        try:
            if last_seal_if_any() is None:
                return
            said += short_of_room(connection)
            taken = keep_copy(connection)
            said += [taken.second_missing] if taken.second_missing else []
        except (CopyRefused, DatabaseError, OSError) as error:
            said.append(f"No copy was taken: {error}")
            self._not_before = now + timedelta(seconds=TRY_AGAIN_S)
        finally:
            connection.close()
        for sentence in said:
            self._warn(sentence)
