"""A computer's clock that was set while the site was served: named in the log, since written times go by it.

The wall's clock is held against one that only goes on. What parts them is a step: somebody set the clock, or a battery
is empty. Slow corrections by the system stay far below what counts.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from types import TracebackType
from typing import Final

from distillery import figures

LOOK_EVERY_S: Final = 10.0
# NTP puts a clock right by a two-thousandth at most while it runs (RFC 5905, section 11.3): 5 ms in ten seconds.
LEAST_STEP_S: Final = 2.0

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Step:
    """By how many seconds the clock was set, ahead where positive, and what the wall's clock said then (Unix time)."""

    by_s: float
    at_s: float

    @property
    def in_words(self) -> str:
        """'put back by 1 h 0 min'."""
        way = "ahead" if self.by_s > 0 else "back"
        whole = round(abs(self.by_s))
        return f"put {way} by {f'{whole} s' if whole < 60 else figures.span(timedelta(seconds=whole))}"


def going_on() -> float:
    """Seconds of a clock that nobody sets; it goes on while the computer sleeps where the system has such a one."""
    boot = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic() if boot is None else time.clock_gettime(boot)


# The newest step since the server started, for whoever asks how it fares.
newest: list[Step] = []


class ClockKeeper:
    """While it is entered, a thread of its own holds the two clocks together every ten seconds."""

    def __init__(
        self,
        *,
        wall: Callable[[], float] = time.time,
        steady: Callable[[], float] = going_on,
        every_s: float = LOOK_EVERY_S,
    ) -> None:
        self._wall, self._steady, self._every_s = wall, steady, every_s
        self._apart = wall() - steady()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._keep, name="clock", daemon=True)

    def look(self) -> Step | None:
        """The step since the last look, named in the log; None where there was none."""
        now = self._wall()
        by, self._apart = now - self._steady() - self._apart, now - self._steady()
        if abs(by) < LEAST_STEP_S:
            return None
        step = Step(by, now)
        newest[:] = [step]
        log.warning(
            "The clock of this computer was %s. What is written from now on bears its new time; see that it is right.",
            step.in_words,
        )
        return step

    def __enter__(self) -> ClockKeeper:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stop.set()
        self._thread.join()

    def _keep(self) -> None:
        while not self._stop.wait(self._every_s):
            self.look()
