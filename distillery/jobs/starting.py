"""Starting the process that does the jobs, from the process that serves the pages.

It is a command of its own with no connection, file or signal shared, so that neither ends the other.
"""

from __future__ import annotations

import logging
import subprocess
import sys
import threading
from typing import IO, Any, Final

from django.conf import settings

from distillery.jobs.claiming import anything_to_do
from distillery.jobs.files import folder
from distillery.starting.where import own_command

LOG: Final = "work.log"
LARGEST_LOG: Final = 1_000_000

log = logging.getLogger(__name__)

# Kept so that their ends are noticed: a process that ended is still there by its number until its starter has asked.
_started: list[subprocess.Popen[bytes]] = []
_one_at_a_time = threading.Lock()


def may_start() -> bool:
    """True in the process that serves the pages; a command does its long work itself."""
    return bool(settings.STARTS_LONG_WORK)


def start() -> bool:
    """Starts a process where there is something to do and nobody does it; True where one was started.

    Nothing is started where `may_start` is False. One that cannot be started is logged; the next look tries again.
    """
    if not may_start():
        return False
    with _one_at_a_time:
        _started[:] = [one for one in _started if one.poll() is None]
        if _started or not anything_to_do():
            return False
        written = folder() / LOG
        too_large = written.exists() and written.stat().st_size > LARGEST_LOG
        try:
            with written.open("wb" if too_large else "ab") as output:
                _started.append(_process(output))
        except OSError as error:
            log.error("No process could be started for long work: %s", error)
            return False
        return True


def _process(output: IO[bytes]) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        own_command("work"),
        stdin=subprocess.DEVNULL,
        stdout=output,
        stderr=output,
        close_fds=True,
        **_apart(),
    )


def _apart() -> dict[str, Any]:
    """A session of its own, so that Ctrl-C at `serve` does not reach it."""
    if sys.platform == "win32":
        return {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP | subprocess.DETACHED_PROCESS}
    return {"start_new_session": True}
