"""The code that `serve` prints on its console while nobody can sign on, so that nobody on the network can be first.

It lives in the memory of the server alone, as a digest; a server that is started again prints another.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import threading
from dataclasses import dataclass
from typing import Final

from django.http import HttpRequest

# Twelve figures in ten tries: one chance in a hundred thousand million. Ours.
FIGURES: Final = 12
MOST_TRIES: Final = 10
AT_HOME: Final = frozenset({"127.0.0.1", "::1"})
# Whatever stands between browser and server names the browser in one of these.
FORWARDED: Final = ("HTTP_X_FORWARDED_FOR", "HTTP_FORWARDED", "HTTP_X_REAL_IP")


@dataclass(slots=True)
class _Waiting:
    digest: bytes = b""
    tries_left: int = 0


_waiting = _Waiting()
_guard = threading.Lock()


def make() -> str:
    """A new code as it is printed, in groups of four; the one before no longer works."""
    figures = "".join(secrets.choice("0123456789") for _ in range(FIGURES))
    with _guard:
        _waiting.digest, _waiting.tries_left = _digest(figures), MOST_TRIES
    return " ".join(figures[at : at + 4] for at in range(0, FIGURES, 4))


def forget() -> None:
    """No code works any more."""
    with _guard:
        _waiting.digest, _waiting.tries_left = b"", 0


def is_waiting() -> bool:
    """Whether a code was printed that works still."""
    return _waiting.tries_left > 0


def is_right(typed: str) -> bool:
    """Whether this is the code, with or without its gaps; a wrong one uses up a try."""
    with _guard:
        if not _waiting.tries_left:
            return False
        if hmac.compare_digest(_digest("".join(typed.split())), _waiting.digest):
            return True
        _waiting.tries_left -= 1
        return False


def at_the_server(request: HttpRequest) -> bool:
    """Whether a request comes from the computer the server runs on, by nobody's hands between."""
    return request.META.get("REMOTE_ADDR") in AT_HOME and not any(name in request.META for name in FORWARDED)


def _digest(figures: str) -> bytes:
    return hashlib.sha256(figures.encode("utf-8", "replace")).digest()
