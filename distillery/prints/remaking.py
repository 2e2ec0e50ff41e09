"""Makes a printed document again as far as its digest, by the page that printed it, and says what is other now."""

from __future__ import annotations

import json
from contextlib import suppress
from typing import Final

from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.urls import Resolver404

from distillery.people.models import Person
from distillery.people.roles import MANAGER
from distillery.printing.noting import NotDrawn, Sheet, noted
from distillery.prints.asking import answer_to, asked_by
from distillery.prints.models import Print
from distillery.prints.names_of_parts import VERSION, in_words

# Where a document has no named parts, or none of them tells what is other.
FIGURES: Final = "the figures"


def remade(one: Print) -> Sheet | None:
    """The document as it would be printed now; None where it cannot be had again (its page no longer answers so)."""
    person = one.by or Person.objects.filter(is_active=True, groups__name=MANAGER).order_by("pk").first()
    if not one.address or person is None:
        return None
    with noted(on_paper=False) as notes, suppress(NotDrawn, Http404, Resolver404, PermissionDenied):
        answer_to(asked_by(one.address, person))
    alike = [sheet for sheet in notes.sheets if (sheet.document, sheet.number) == (one.document, one.number)]
    # A document whose head names the day it is printed on is the same under another day's.
    return next(iter(alike or notes.sheets), None)


def changed(one: Print, now: Sheet) -> tuple[str, ...]:
    """The named parts of a print that are other now; nothing where the digest is the same."""
    if one.digest == now.digest:
        return ()
    then: dict[str, str] = json.loads(one.parts)
    names = [name for name in {**then, **now.parts} if name != VERSION] if then else []
    other = [name for name in names if then.get(name) != now.parts.get(name)]
    return tuple(dict.fromkeys(map(in_words, other))) or (FIGURES,)
