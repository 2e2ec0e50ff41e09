"""How far a load is, said as often as somebody who waits wants to know."""

from __future__ import annotations

from collections.abc import Callable
from time import monotonic

Progress = Callable[[str], None]

SECONDS_SILENT = 2.0


def now_and_then(progress: Progress) -> Progress:
    """Says what it is told, but not oftener than every two seconds."""
    said = monotonic()

    def say(line: str) -> None:
        nonlocal said
        if monotonic() - said >= SECONDS_SILENT:
            said = monotonic()
            progress(line)

    return say
