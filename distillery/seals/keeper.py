"""Notes the day's last seal in a file elsewhere while the site is served: at the start, at each new day, at the end."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import date
from pathlib import Path
from types import TracebackType
from typing import Final

from django.db import connection
from django.utils import timezone

from distillery.seals.noted import UnreadableNote, append_to, compared_with

LOOK_EVERY_S: Final = 60.0


class SealsKeeper:
    """While it is entered, a thread of its own looks once a minute whether the day has changed.

    What cannot be written (a stick pulled out) is said once a day and tried again; serving goes on.
    """

    def __init__(self, file: Path, *, warn: Callable[[str], object], every_s: float = LOOK_EVERY_S) -> None:
        self._file = file
        self._warn = warn
        self._every_s = every_s
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._keep, name="seals", daemon=True)
        self._noted_on: date | None = None
        self._warned_on: date | None = None

    def __enter__(self) -> SealsKeeper:
        self._compare()
        self._note()
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stop.set()
        self._thread.join()
        self._note()

    def _compare(self) -> None:
        try:
            apart = compared_with(self._file) if self._file.exists() else []
        except UnreadableNote as wrong:
            self._warn(str(wrong))
            return
        if apart:
            self._warn(f"{apart[0]} ({len(apart)} in all). Run verify_ledger --seals {self._file}.")

    def _keep(self) -> None:
        while not self._stop.wait(self._every_s):
            if self._noted_on != timezone.localdate():
                self._note()
        connection.close()

    def _note(self) -> None:
        today = timezone.localdate()
        try:
            append_to(self._file)
        except UnreadableNote as wrong:
            if self._warned_on != today:
                self._warn(str(wrong))
            self._warned_on = today
        else:
            self._noted_on = today
