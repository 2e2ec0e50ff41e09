"""Enrolled PCs: a press of a manager enrols the PC at which it is made, and a signed cookie tells it from others."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable
from datetime import timedelta
from typing import Final

from django.conf import settings
from django.core import signing
from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from distillery.database.retrying import retried
from distillery.pen.models import FEWEST_IDLE_MINUTES, MOST_IDLE_MINUTES, EnrolledPC
from distillery.people.models import Person
from distillery.people.roles import PLANT_KEEPERS, holds
from distillery.seals.writing import signed

COOKIE: Final = "gaugebook_pc"
SALT: Final = "gaugebook.enrolled-pc"
# Browsers keep no cookie longer than 400 days (RFC 6265bis, section 5.5); each sign-on begins them anew.
KEPT: Final = timedelta(days=400)
TOKEN_BYTES: Final = 32

# How long a PC waits before it locks, by where it stands.
IDLE_MINUTES: Final = {"Still house": 5, "Mash house": 5, "Tun room": 5, "Warehouse": 5, "Bottling hall": 5, "Desk": 10}
PLACES: Final = tuple(IDLE_MINUTES)


# Told that a PC is enrolled: the request, and the number by which it is known from then on.
ENROLLED: list[Callable[[HttpRequest, str], None]] = []


class NotEnrolled(Exception):
    """A PC cannot be enrolled, or its enrolment not ended, as asked; one sentence, and the box it belongs to."""

    def __init__(self, sentence: str, field: str = "") -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field


def pc_of(request: HttpRequest) -> EnrolledPC | None:
    """The enrolled PC that a request comes from; None where its cookie is not there, not ours, or its enrolment ended.

    Looked up once for a request.
    """
    if not hasattr(request, "_enrolled_pc"):
        token = _token_of(request)
        found = (
            EnrolledPC.objects.filter(token_digest=digest_of(token), ended_at__isnull=True).first() if token else None
        )
        request._enrolled_pc = found  # type: ignore[attr-defined]
    pc: EnrolledPC | None = request._enrolled_pc  # type: ignore[attr-defined]
    return pc


def number_of(request: HttpRequest) -> str:
    """The number of a PC that is, or once was, enrolled: what is kept of its token. Blank for any other."""
    token = _token_of(request)
    return digest_of(token) if token else ""


def enrolled_now(request: HttpRequest, pc: EnrolledPC, token: str) -> None:
    """Tells all that keep something of a PC that the one of this request is enrolled a moment ago."""
    request._enrolled_pc = pc  # type: ignore[attr-defined]
    for tell in ENROLLED:
        tell(request, digest_of(token))


@retried
@signed("enrolling a PC")
def enrol(*, person: Person, name: str, place: str, idle_minutes: int) -> tuple[EnrolledPC, str]:
    """Enrols a PC; gives it with the token for its cookie. Raises NotEnrolled."""
    _who_may(person)
    name = " ".join(name.split())
    if not name:
        raise NotEnrolled("Name is blank; write what people call this PC, such as Still house PC.", "name")
    if not FEWEST_IDLE_MINUTES <= idle_minutes <= MOST_IDLE_MINUTES:
        raise NotEnrolled(
            f"A PC locks after {FEWEST_IDLE_MINUTES} to {MOST_IDLE_MINUTES} minutes, not {idle_minutes}.",
            "idle_minutes",
        )
    if EnrolledPC.objects.filter(name__iexact=name, ended_at__isnull=True).exists():
        raise NotEnrolled(f"There is a {name} already; end it first, or give this one another name.", "name")
    token = secrets.token_urlsafe(TOKEN_BYTES)
    try:
        pc = EnrolledPC.objects.create(
            token_digest=digest_of(token),
            name=name,
            place=place,
            idle_minutes=idle_minutes,
            enrolled_by=person,
            enrolled_at=timezone.now(),
        )
    except IntegrityError as error:
        raise NotEnrolled(f"There is a {name} already; give this one another name.", "name") from error
    return pc, token


@retried
@signed("ending a PC")
def end(pc: EnrolledPC, *, person: Person) -> None:
    """Ends an enrolment: sessions at that PC end with it, and PINs work there no longer. Raises NotEnrolled."""
    _who_may(person)
    pc = EnrolledPC.objects.select_for_update().get(pk=pc.pk)
    if pc.ended_at is None:
        pc.ended_by, pc.ended_at = person, timezone.now()
        pc.save(update_fields=["ended_by", "ended_at"])


def remember(response: HttpResponse, token: str) -> None:
    """Puts the cookie on the PC by which it is known from now on."""
    response.set_cookie(
        COOKIE,
        signing.dumps(token, salt=SALT),
        max_age=KEPT,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )


def remember_again(request: HttpRequest, response: HttpResponse) -> None:
    """Begins the days of the cookie anew at a PC that has one."""
    token = _token_of(request)
    if token and pc_of(request) is not None:
        remember(response, token)


def digest_of(token: str) -> str:
    """What is kept of a token: SHA-256 (FIPS 180-4), enough for one of 32 random bytes."""
    return hashlib.sha256(token.encode("ascii", "replace")).hexdigest()


def _token_of(request: HttpRequest) -> str:
    try:
        token = signing.loads(request.COOKIES.get(COOKIE, ""), salt=SALT)
    except signing.BadSignature:
        return ""
    return token if isinstance(token, str) else ""


def _who_may(person: Person) -> None:
    if not holds(person, PLANT_KEEPERS):
        raise NotEnrolled("A manager or an administrator enrols PCs and ends them.")
