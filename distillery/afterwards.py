"""Work that an answer need not wait for: done once the answer has been handed over.

`serve` starts a process beside the server that does it, so that whoever reads meanwhile has the server to themselves;
without one the thread that made the answer does it. Where nobody waits for an answer (a command, a test that calls a
service) it is done at once. Nothing may depend on it: a process that is killed in between never does it, so whoever
asks for it keeps a note of what is still to be done.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from typing import Any, NamedTuple

from django.core.signals import request_finished
from django.db import close_old_connections
from django.http import HttpRequest, HttpResponseBase

log = logging.getLogger(__name__)


class Work(NamedTuple):
    """A function of a module, so that another process finds it by its name, and the texts it is given."""

    function: Callable[..., None]
    given: tuple[str, ...] = ()

    def do(self) -> None:
        self.function(*self.given)


class _OfThread(threading.local):
    answering = False
    work: list[Work]

    def __init__(self) -> None:
        self.work = []


_here = _OfThread()
# Tells a process beside this one of some work, and whether that process will do it; `serve` puts its own in.
beside: list[Callable[[Work], bool]] = []


def afterwards(function: Callable[..., None], *given: str) -> None:
    """Does this work after the answer, once however often it is asked for; at once where there is none to wait for."""
    work = Work(function, given)
    if not _here.answering:
        work.do()
    elif work not in _here.work:
        _here.work.append(work)


def done_beside() -> bool:
    """Whether an answer is being made here, and another process does what need not be waited for."""
    return _here.answering and bool(beside)


class Answering:
    """Middleware that tells when an answer is being made."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        _here.answering = True
        try:
            return self._get_response(request)
        finally:
            _here.answering = False


def _do(**signal: Any) -> None:
    work, _here.work = _here.work, []
    left = [one for one in work if not any(tell(one) for tell in beside)]
    for one in left:
        try:
            one.do()
        except Exception:
            # What was asked for is saved and answered; a fault here would turn the answer into one.
            log.exception("What was to be done after an answer is done with the next: %s.", one.function.__name__)


# Before Django lets go of the connection to the database, which the work needs as well.
request_finished.disconnect(close_old_connections)
request_finished.connect(_do, dispatch_uid="work after the answer")
request_finished.connect(close_old_connections)
