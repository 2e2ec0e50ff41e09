"""Servers without the seconds each takes to start: a process that has the site imported, and forks one at a time.

Every server is a process of its own with its own memory, files and connections, and is killed as one; the process it is
forked from has opened no database and listens at no port. Needs a system that forks.
"""

from __future__ import annotations

import gc
import os
import signal
import subprocess
import sys
from types import TracebackType
from typing import Self

from tests.faults import light_server
from tests.running_site import ROOT, environment

LONGEST_END_S = 30


class ReadyServers:
    """Serves a site again and again; `start` after `kill`, never twice at once."""

    def __init__(self, url: str) -> None:
        self._parent = subprocess.Popen(
            [sys.executable, "-m", "tests.faults.ready_servers"],
            cwd=ROOT,
            env=environment(url, LOG_LEVEL="ERROR"),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self._serving: int | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Ends both processes."""
        self.kill()
        assert self._parent.stdin is not None
        assert self._parent.stdout is not None
        self._parent.stdin.close()
        self._parent.wait(LONGEST_END_S)
        self._parent.stdout.close()

    def start(self) -> str:
        """Its address, once it serves. Raises AssertionError where it does not."""
        assert self._serving is None
        assert self._parent.stdin is not None
        self._parent.stdin.write("start\n")
        self._parent.stdin.flush()
        pid, said = self._line(), self._line()
        assert pid, "The process that has the servers ready has ended."
        self._serving = int(pid)
        assert said.startswith("Serving at "), said
        return said.split()[2].rstrip("/")

    def kill(self) -> None:
        """kill -9, by its id; comes back once it is gone."""
        if self._serving is None:
            return
        os.kill(self._serving, signal.SIGKILL)
        ended = self._line()
        assert ended == f"{self._serving} ended by {signal.SIGKILL.value}", ended
        self._serving = None

    def _line(self) -> str:
        assert self._parent.stdout is not None
        return self._parent.stdout.readline().rstrip("\n")


def _read_templates() -> None:
    """Every page is made of templates that are compiled once a process."""
    from django.template import engines

    from distillery.starting import where

    for file in where.TEMPLATES.rglob("*.html"):
        engines["django"].get_template(file.relative_to(where.TEMPLATES).as_posix())


def main() -> None:
    """Forks a server for each line it is sent, and says when that one has ended, and by which signal."""
    site = light_server.imported()
    _read_templates()
    # What is there is shared by all that are forked, and is not gone through again in search of what to throw away.
    gc.collect()
    gc.freeze()
    for _ in sys.stdin:
        pid = os.fork()
        if not pid:
            # Whoever asks writes to the first process alone.
            os.close(0)
            light_server.serve(site)
            os._exit(1)
        print(pid, flush=True)
        _, status = os.waitpid(pid, 0)
        print(f"{pid} ended by {-os.waitstatus_to_exitcode(status)}", flush=True)


if __name__ == "__main__":
    main()
