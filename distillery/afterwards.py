"""Work that an answer need not wait for: done once the answer has been handed over, by the thread that made it.

Where nobody waits for an answer (a command, a test that calls a service) it is done at once. Nothing may depend on it:
a process that is killed in between never does it, so whoever asks for it keeps a note of what is still to be done.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from django.core.signals import request_finished
from django.db import close_old_connections
from django.http import HttpRequest, HttpResponseBase

Work = Callable[[], None]


class _OfThread(threading.local):
    answering = False
    work: list[Work]

    def __init__(self) -> None:
        self.work = []


_here = _OfThread()


def afterwards(work: Work) -> None:
    """Does this work after the answer, once however often it is asked for; at once where there is none to wait for."""
    if not _here.answering:
        work()
    elif work not in _here.work:
        _here.work.append(work)


def answering() -> bool:
    """True while this thread makes an answer that somebody waits for."""
    return _here.answering


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
    for one in work:
        one()
    if work:
        close_old_connections()


request_finished.connect(_do, dispatch_uid="work after the answer")
