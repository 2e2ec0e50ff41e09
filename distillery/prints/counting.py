"""Which version of its document a print is, and which copy of that version.

A document is known by its title and number, as at its head; one without a number by the address that prints it too. Its
first counted print, by itself or bound into a bundle, is version 1, or the version of the record that it prints; where
its digest is another than that of its last counted print it is the next version, and says which parts of it are other.
Copies are counted for each version; what is bound in bears the copy of the whole. What is only looked at bears the
version that a print would bear, and no copy.
"""

from __future__ import annotations

import json
import logging
from dataclasses import replace

from django.db import DatabaseError
from django.db.models import QuerySet
from django.utils import timezone

from distillery.database.retrying import Busy, retried
from distillery.people.models import Person
from distillery.printing.noting import Numbering, Numbers, Sheet
from distillery.prints.figures_kept import figures_changed, keep_figures
from distillery.prints.models import Print
from distillery.prints.remaking import changed
from distillery.seals.writing import signed

WAY = "print"

_log = logging.getLogger(__name__)


def looked_at(address: str) -> Numbers:
    """Says of documents that are looked at which version they are. Reads only."""

    def number(sheet: Sheet) -> Numbering:
        return _numbering(sheet, _printed(sheet, address))

    return number


def bound(copy: int) -> Numbers:
    """Says of documents that are bound into a larger one which version each is by itself; their copy is that of the
    whole. What is other in a version is named by its parts, without the list of figures. Reads only."""

    def number(sheet: Sheet) -> Numbering:
        return replace(_numbering(sheet, _printed(sheet, ""), listed=False), copy=copy)

    return number


def counted(address: str, person: Person | None) -> Numbers:
    """Counts each document as a copy, entered in the register before it is drawn. A document that cannot be entered is
    printed as one that was looked at."""

    def number(sheet: Sheet) -> Numbering:
        try:
            return _enter(sheet, address, person=person)
        except (DatabaseError, Busy):
            _log.warning("The copy of %s %s could not be counted.", sheet.document, sheet.number, exc_info=True)
            return looked_at(address)(sheet)

    return number


@retried
@signed(WAY)
def _enter(sheet: Sheet, address: str, *, person: Person | None) -> Numbering:
    printed = _printed(sheet, address)
    numbering = _numbering(sheet, printed)
    copies = printed.filter(version=numbering.version).order_by("-copy").values_list("copy", flat=True)
    numbering = replace(numbering, copy=(copies.first() or 0) + 1)
    print_of(sheet, numbering.version, numbering.copy, address, person).save(force_insert=True)
    keep_figures(sheet)
    return numbering


def print_of(sheet: Sheet, version: int, copy: int, address: str, person: Person | None) -> Print:
    """The line of the register for a document that is printed now, not saved yet."""
    return Print(
        document=sheet.document[:200],
        number=sheet.number[:200],
        version=version,
        digest=sheet.digest,
        parts=json.dumps(dict(sheet.parts)),
        address=address,
        by=person,
        at=timezone.now(),
        copy=copy,
    )


def _printed(sheet: Sheet, address: str) -> QuerySet[Print]:
    """The counted prints of a document, the last first."""
    alike = Print.objects.filter(document=sheet.document[:200], number=sheet.number[:200], copy__gt=0)
    return (alike if sheet.number else alike.filter(address=address)).order_by("-pk")


def _numbering(sheet: Sheet, printed: QuerySet[Print], *, listed: bool = True) -> Numbering:
    """Which version a document is, and what is other than in the one before; no copy yet."""
    last = printed.first()
    if last is None:
        return Numbering(max(1, sheet.version), 0)
    if last.digest != sheet.digest:
        return _beside(last, sheet, max(last.version + 1, sheet.version), listed=listed)
    before = printed.filter(version__lt=last.version).first() if last.version > 1 else None
    return Numbering(last.version, 0) if before is None else _beside(before, sheet, last.version, listed=listed)


def _beside(before: Print, sheet: Sheet, version: int, *, listed: bool) -> Numbering:
    """The version of a document beside one that was printed before."""
    figures = figures_changed(before.digest, sheet) if listed else ()
    return Numbering(version, 0, before.version, changed(before, sheet), figures)
