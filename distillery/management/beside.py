"""A process beside the server that does what answers need not wait for (`distillery/afterwards.py`).

It is told of work line by line through a pipe: a JSON list of module, function and the texts it is given. What is asked
for several times while it is busy is done once. It ends when the pipe does, so it never outlives the server.
"""

from __future__ import annotations

import contextlib
import json
import logging
import os
import select
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from typing import Final

from django.db import DatabaseError, connection

from distillery.afterwards import Work, beside
from distillery.database.retrying import Busy
from distillery.starting.where import own_command

COMMAND: Final = "work_beside"
# One that ends by itself is started again, but no more often than this.
SECONDS_BETWEEN_STARTS: Final = 30.0
LONGEST_END_S: Final = 10
_READ_AT_ONCE: Final = 65536

log = logging.getLogger(__name__)


class Beside:
    """The process, as the server knows it."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._started = -SECONDS_BETWEEN_STARTS
        self._process: subprocess.Popen[bytes] | None = None

    def tell(self, work: Work) -> bool:
        """Tells it of some work; False where it is not there, and the work is the caller's own."""
        line = json.dumps([work.function.__module__, work.function.__qualname__, *work.given]).encode() + b"\n"
        with self._guard:
            if not self._is_there():
                return False
            assert self._process is not None
            assert self._process.stdin is not None
            try:
                os.write(self._process.stdin.fileno(), line)
            except BlockingIOError:
                # It has been told so much that it was surely told this too.
                return True
            except OSError:
                return False
        return True

    def _is_there(self) -> bool:
        if self._process is not None and self._process.poll() is None:
            return True
        if time.monotonic() - self._started < SECONDS_BETWEEN_STARTS:
            return False
        if self._process is not None:
            log.warning("The process beside the server ended (%s) and is started again.", self._process.returncode)
            self._let_go()
        self._started = time.monotonic()
        self._process = subprocess.Popen(
            own_command(COMMAND),
            stdin=subprocess.PIPE,
            bufsize=0,
        )
        assert self._process.stdin is not None
        os.set_blocking(self._process.stdin.fileno(), False)
        return True

    def end(self) -> None:
        """Lets it finish what it is at and waits for it, but not for long: what is left is noted."""
        with self._guard:
            if self._process is None:
                return
            self._let_go()
            try:
                self._process.wait(LONGEST_END_S)
            except subprocess.TimeoutExpired:
                self._process.kill()
                self._process.wait()

    def _let_go(self) -> None:
        if self._process is not None and self._process.stdin is not None:
            with contextlib.suppress(OSError):
                self._process.stdin.close()


@contextmanager
def working_beside() -> Iterator[None]:
    """While this lasts, what answers need not wait for is done by a process beside this one."""
    there = Beside()
    beside.append(there.tell)
    try:
        yield
    finally:
        beside.remove(there.tell)
        there.end()


def do_what_is_asked(pipe: int) -> None:
    """Does the work that comes through a pipe until the pipe ends."""
    text = b""
    ended = False
    while not ended:
        # All that has been asked meanwhile is taken together.
        while not ended and (b"\n" not in text or select.select([pipe], [], [], 0)[0]):
            read = os.read(pipe, _READ_AT_ONCE)
            ended = not read
            text += read
        *lines, text = text.split(b"\n")
        for line in dict.fromkeys(lines):
            _do(line)


def _do(line: bytes) -> None:
    module, name, *given = json.loads(line)
    try:
        getattr(import_module(module), name)(*given)
    except (DatabaseError, Busy):
        log.exception("What was to be done after an answer is done with the next: %s.", name)
    except Exception:
        log.exception("%s failed.", name)
    finally:
        connection.close()
