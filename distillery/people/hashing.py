"""Few passwords hashed at once. Each hashing takes 100 MiB by design, and ten together would take a gigabyte.

A hash that needs much memory makes guessing dear (RFC 9106, section 1), so it is not made smaller: those who sign on
together take turns, and whoever would wait too long is told so.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from django.contrib.auth.hashers import Argon2PasswordHasher
from django.core.exceptions import ValidationError

# One hashing has eight threads of its own, so two at once are through no sooner, and hold 306 MB where one holds 206
# (`tests.benchmarks.signing_on`, two cores).
AT_ONCE: Final = 1
# A hashing takes 0.15 s on two free cores, so that twenty people are through in 3 s.
LONGEST_WAIT_S: Final = 10.0

_turns = threading.BoundedSemaphore(AT_ONCE)


class ManySigningOn(ValidationError):
    """No turn came in time; nothing was looked at. A form shows it as its own error."""

    sentence = "Many are signing on; try again in a moment."

    def __init__(self) -> None:
        super().__init__(self.sentence, code="many_signing_on")


class FewAtOnce(Argon2PasswordHasher):
    """Argon2id as the framework sets it, by `AT_ONCE` threads of this process at most. Raises ManySigningOn."""

    def encode(self, password: str, salt: str) -> str:
        """The hash of a password."""
        with _turn():
            encoded: str = super().encode(password, salt)
        return encoded

    def verify(self, password: str, encoded: str) -> bool:
        """True where the password gives the hash."""
        with _turn():
            return bool(super().verify(password, encoded))


@contextmanager
def _turn() -> Iterator[None]:
    if not _turns.acquire(timeout=LONGEST_WAIT_S):
        raise ManySigningOn
    try:
        yield
    finally:
        _turns.release()
