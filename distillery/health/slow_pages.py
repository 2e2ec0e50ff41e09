"""Pages that took longer than the site's figure, each one line in the log: address, milliseconds, questions, answer."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from typing import Any, Final

from django.conf import settings
from django.db import connection
from django.http import HttpRequest, HttpResponseBase
from django.utils.encoding import escape_uri_path

LONGEST_PATH: Final = 200

log = logging.getLogger(__name__)


class _Counting:
    """Counts what is asked of the database."""

    number = 0

    def __call__(self, execute: Callable[..., Any], *asked: Any) -> Any:
        self.number += 1
        return execute(*asked)


class NamesSlowPages:
    """Middleware. The address is named without its query, which may say what somebody looked for."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """The page as it is; nothing is added to it."""
        began, counting, status = time.perf_counter(), _Counting(), 0
        try:
            with connection.execute_wrapper(counting):
                answer = self._get_response(request)
            status = answer.status_code
            return answer
        finally:
            took_ms = round(1000 * (time.perf_counter() - began))
            if 0 < settings.SLOW_PAGE_MS <= took_ms:
                path = escape_uri_path(request.path)[:LONGEST_PATH]
                what = (request.method, path, took_ms, counting.number, status)
                log.warning("Slow page: %s %s, %d ms, %d queries, answer %d.", *what)
