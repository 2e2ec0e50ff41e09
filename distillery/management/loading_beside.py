"""The process that loads the demonstration beside the server, and what is shown at every address until it has.

Nobody is let in before: what would be written into half a year would stand in the way of the rest, and on SQLite
whoever signs on would wait for the loading. The process says how far it is line by line through a pipe, and ends when
its own input does, so it never outlives the server; a month it was at is then rolled back.
"""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import IO, Final

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.template.loader import render_to_string

from distillery.management.demonstration_year import HowFar
from distillery.screens.chosen import theme_of
from distillery.starting.where import own_command

COMMAND: Final = "load_demonstration"
SECONDS_BETWEEN_LOOKS: Final = 2
LONGEST_END_S: Final = 10
LONGEST_FAULT: Final = 2000

# The loading that goes on, in the process that serves; nothing in any other.
_going_on: list[Loading] = []


class Loading:
    """The process, as the server knows it."""

    def __init__(self) -> None:
        self.far: HowFar | None = None
        self._fault = ""
        self._process = subprocess.Popen(
            own_command(COMMAND),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for pipe, read in ((self._process.stdout, self._told), (self._process.stderr, self._complained)):
            threading.Thread(target=_each_line, args=(pipe, read), daemon=True).start()

    def _told(self, line: str) -> None:
        self.far = HowFar(**json.loads(line))

    def _complained(self, line: str) -> None:
        self._fault = (self._fault + line)[-LONGEST_FAULT:]
        sys.stderr.write(line)

    @property
    def is_over(self) -> bool:
        """Whether all is loaded."""
        return self._process.poll() == 0

    @property
    def fault(self) -> str:
        """Why it ended before all was loaded, blank while it goes on and where it came to its end."""
        return (self._fault or "It was ended.") if self._process.poll() else ""

    def end(self) -> None:
        """Ends it, and with it the month it is at."""
        assert self._process.stdin is not None
        with suppress(OSError):
            self._process.stdin.close()
        try:
            self._process.wait(LONGEST_END_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()


def _each_line(pipe: IO[str], read: Callable[[str], None]) -> None:
    for line in pipe:
        read(line)


@contextmanager
def loading_beside() -> Iterator[None]:
    """While this lasts, the demonstration is loaded by a process beside this one, and pages say how far it is."""
    loading = Loading()
    _going_on.append(loading)
    try:
        yield
    finally:
        _going_on.clear()
        loading.end()


class SaysWhatIsLoaded:
    """Middleware that answers every address with how far the loading is, while one goes on."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        loading = _going_on[0] if _going_on else None
        if loading is None or loading.is_over:
            return self._get_response(request)
        done, total = loading.far.parts if loading.far is not None else (0, 100)
        said = {
            "said": loading.far.sentence if loading.far is not None else "",
            "done": done,
            "total": total,
            "fault": loading.fault,
            "seconds": SECONDS_BETWEEN_LOOKS,
            "theme": theme_of(request),
        }
        page = HttpResponse(
            render_to_string("demonstration_loading.html", said), status=200 if request.method == "GET" else 503
        )
        page["Cache-Control"] = "no-store"
        return page
