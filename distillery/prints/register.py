"""Writes the register of prints: after the answer, so that nobody waits for it, and never at the cost of a print."""

from __future__ import annotations

import json
import logging
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime

from django.db import DatabaseError
from django.http import HttpRequest, HttpResponseBase
from django.utils import timezone

from distillery.afterwards import afterwards
from distillery.people.models import Person
from distillery.printing.noting import Sheet, noted
from distillery.prints.models import Print
from distillery.seals.writing import signed

PDF = "application/pdf"
WAY = "print"

_log = logging.getLogger(__name__)


class NotesPrints:
    """Middleware that enters in the register what a person who has signed on prints."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        with noted() as notes:
            answer = self._get_response(request)
        if not notes.sheets or answer.status_code != 200 or answer.headers.get("Content-Type") != PDF:
            return answer
        if isinstance(request.user, Person) and request.method in ("GET", "POST"):
            # What was asked by a form is not made again by its address.
            address = request.get_full_path() if request.method == "GET" else ""
            _ask(notes.sheets, address, request.user)
        return answer


@contextmanager
def registered(address: str) -> Iterator[None]:
    """Enters in the register what a command prints inside it; `address` is where a page prints the same."""
    with noted() as notes:
        yield
    _ask(notes.sheets, address, None)


def _ask(sheets: Sequence[Sheet], address: str, person: Person | None) -> None:
    for sheet in sheets:
        given = (sheet.document, sheet.number, str(sheet.version), sheet.digest, json.dumps(dict(sheet.parts)))
        afterwards(enter, *given, address, str(person.pk) if person else "", timezone.now().isoformat())


def enter(
    document: str, number: str, version: str, digest: str, parts: str, address: str, person: str, at: str
) -> None:
    """Enters one print, given in texts. Where the database refuses, the print stands without it and the log says so."""
    by = Person.objects.filter(pk=int(person)).first() if person else None
    one = Print(
        document=document[:200],
        number=number[:200],
        version=int(version),
        digest=digest,
        parts=parts,
        address=address,
        by=by,
        at=datetime.fromisoformat(at),
    )
    try:
        _save(one, person=by)
    except DatabaseError:
        _log.warning("The print of %s could not be entered in the register of prints.", one, exc_info=True)


@signed(WAY)
def _save(one: Print, *, person: Person | None) -> None:
    one.save(force_insert=True)
