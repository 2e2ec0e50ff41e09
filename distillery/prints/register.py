"""Writes what was looked at into the register of prints: after the answer, so that nobody waits for it."""

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
from distillery.prints.counting import WAY, counted, looked_at, print_of
from distillery.prints.models import Print
from distillery.seals.writing import signed

PDF = "application/pdf"

_log = logging.getLogger(__name__)


class NotesPrints:
    """Middleware that enters in the register what a person who has signed on prints."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        # What was asked by a form is not made again by its address.
        address = request.get_full_path() if request.method == "GET" else ""
        with noted(numbers=looked_at(address)) as notes:
            answer = self._get_response(request)
        if not notes.sheets or answer.status_code != 200 or answer.headers.get("Content-Type") != PDF:
            return answer
        if isinstance(request.user, Person) and request.method in ("GET", "POST"):
            _ask(notes.sheets, address, request.user)
        return answer


@contextmanager
def registered(address: str) -> Iterator[None]:
    """Counts in the register what a command prints inside it; `address` is where a page prints the same."""
    with noted(numbers=counted(address, None)):
        yield


def _ask(sheets: Sequence[Sheet], address: str, person: Person) -> None:
    for sheet in sheets:
        given = (sheet.document, sheet.number, str(sheet.version), sheet.digest, json.dumps(dict(sheet.parts)))
        afterwards(enter, *given, address, str(person.pk), timezone.now().isoformat())


def enter(
    document: str, number: str, version: str, digest: str, parts: str, address: str, person: str, at: str
) -> None:
    """Enters what was looked at, given in texts. Where the database refuses, it stands without and the log says so."""
    by = Person.objects.filter(pk=int(person)).first()
    one = print_of(Sheet(document, number, int(version), digest, json.loads(parts)), int(version), 0, address, by)
    one.at = datetime.fromisoformat(at)
    try:
        _save(one, person=by)
    except DatabaseError:
        _log.warning("The print of %s could not be entered in the register of prints.", one, exc_info=True)


@signed(WAY)
def _save(one: Print, *, person: Person | None) -> None:
    one.save(force_insert=True)
