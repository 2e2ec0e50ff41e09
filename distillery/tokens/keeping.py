"""The one way tokens are made, ended and known again."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.db import DatabaseError, IntegrityError
from django.utils import timezone

from distillery.clock.reading import site_day
from distillery.database.retrying import Busy, retried
from distillery.people.models import Person
from distillery.seals.writing import signed
from distillery.tokens.models import ConsumerToken, TokenEnded, TokenUsed

BYTES: Final = 32
LONGEST_NAME, LONGEST_REASON = 60, 200
# Longer than any token, so that no long text is hashed.
LONGEST_TOKEN: Final = 100

# Token and day that are written down already, so that a request writes nothing but the first of a day.
_noted: set[tuple[int, date]] = set()
_MOST_NOTED: Final = 1000


class Unfit(ValueError):
    """A token cannot be made or ended so; `field` is the box, the sentence says why."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field, self.sentence = field, sentence


@dataclass(frozen=True, slots=True)
class Made:
    """A token with its text, which is kept nowhere."""

    token: ConsumerToken
    text: str


@retried
@signed("making a token")
def make(*, name: str, person: Person) -> Made:
    """Makes a token for a consumer. Raises Unfit, Busy."""
    name = _said("name", name, LONGEST_NAME)
    if ConsumerToken.objects.filter(name__iexact=name, ended=None).exists():
        raise Unfit("name", f"{name} has a token already. End that one first, or give this one a name of its own.")
    text = secrets.token_urlsafe(BYTES)
    made = ConsumerToken.objects.create(name=name, digest=_digest(text), made_by=person, made_at=timezone.now())
    return Made(made, text)


@retried
@signed("ending a token")
def end(token: ConsumerToken, *, reason: str, person: Person) -> TokenEnded:
    """Ends a token at once. Raises Unfit, Busy."""
    reason = _said("reason", reason, LONGEST_REASON)
    if TokenEnded.objects.filter(token=token).exists():
        raise Unfit("reason", f"The token of {token.name} was ended already.")
    return TokenEnded.objects.create(token=token, by=person, at=timezone.now(), reason=reason)


def known_by(text: str) -> ConsumerToken | None:
    """The token of a text, while it stands; None for any other text."""
    if not text or len(text) > LONGEST_TOKEN:
        return None
    return ConsumerToken.objects.filter(digest=_digest(text), ended=None).first()


def note_use(token: ConsumerToken) -> None:
    """Writes down that a token was used today; where the books are busy the next request does it."""
    now = timezone.now()
    key = (token.pk, site_day(now))
    if key in _noted:
        return
    try:
        if not TokenUsed.objects.filter(token=token, day=key[1]).exists():
            _write_use(token, key[1])
    except (Busy, DatabaseError):
        return
    if len(_noted) >= _MOST_NOTED:
        _noted.clear()
    _noted.add(key)


@signed("a token used")
def _write_use(token: ConsumerToken, day: date) -> None:
    try:
        TokenUsed.objects.create(token=token, day=day, at=timezone.now())
    except IntegrityError as error:
        # Another process was first.
        raise DatabaseError(str(error)) from error


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def _said(field: str, text: str, longest: int) -> str:
    said = " ".join(text.split())
    if not said or not said.isprintable():
        raise Unfit(field, "This is blank: fill it in.")
    if len(said) > longest:
        raise Unfit(field, f"'{said[:20]}…' is longer than {longest} characters.")
    return said
