"""The documents of a bundle in the register of prints, so that the digest of any of its pages is known when typed."""

from __future__ import annotations

import logging
from collections.abc import Mapping, Sequence
from typing import Final
from urllib.parse import urlencode

from django.db import DatabaseError
from django.db.models import Max
from django.urls import reverse

from batches.pages.bundle.months import Months
from distillery.database.retrying import Busy, retried
from distillery.people.models import Person
from distillery.printing.document import Part
from distillery.printing.noting import Sheet
from distillery.prints.counting import print_of
from distillery.prints.models import Print
from distillery.seals.writing import signed

WAY: Final = "officer's bundle"

_log = logging.getLogger(__name__)


def next_copy(title: str, number: str) -> int:
    """Which copy of the bundle of some months is made next, from 1; `title` and `number` as on its first page."""
    last = Print.objects.filter(document=title, number=number).aggregate(last=Max("copy"))["last"]
    return (last or 0) + 1


def version_of(months: Months, title: str, digests: Sequence[str]) -> int:
    """Which version of the bundle of some months has documents with these digests, all but the first and the last of
    it: that of the one made last where they are the same, else the next."""
    last = Print.objects.filter(document=title, number=months.bundle_number).order_by("-pk").first()
    if last is None:
        return 1
    # The documents of a bundle are entered one after another behind its first page.
    behind = Print.objects.filter(pk__gt=last.pk, copy=last.copy, address__startswith=_beginning(months)).order_by("pk")
    same = sorted(behind.values_list("digest", flat=True)[: len(digests)]) == sorted(digests)
    return last.version if same else last.version + 1


def _beginning(months: Months) -> str:
    """How the addresses of the documents of a bundle begin."""
    return f"{reverse('officer_bundle_part')}?{urlencode({'first': months.first.code, 'last': months.last.code})}&"


Named = Mapping[str, Mapping[str, str]]


def enter_bundle(
    months: Months, parts: Sequence[tuple[Part, bool]], copy: int, *, named: Named | None = None, person: Person | None
) -> None:
    """Enters every document of a bundle that is finished. The flag says whether a document can be made again alone;
    what lists the pages of the others cannot. `named` has by its digest the named parts of a document. Where the
    database refuses, the bundle stands without, and the log says so."""
    try:
        _enter(months, parts, copy, named=named or {}, person=person)
    except (DatabaseError, Busy):
        _log.warning(
            "The bundle %s could not be entered in the register of prints.", months.bundle_number, exc_info=True
        )


@retried
@signed(WAY)
def _enter(
    months: Months, parts: Sequence[tuple[Part, bool]], copy: int, *, named: Named, person: Person | None
) -> None:
    for part, alone in parts:
        own = part.furniture
        sheet = Sheet(own.title, own.number, max(1, own.version), own.digest, named.get(own.digest, {}))
        address = address_of(months, own.title, own.number) if alone else ""
        print_of(sheet, sheet.version, copy, address, person).save(force_insert=True)


def address_of(months: Months, title: str, number: str) -> str:
    """Where one document of a bundle is printed by itself."""
    asked = {"first": months.first.code, "last": months.last.code, "document": title, "number": number}
    return f"{reverse('officer_bundle_part')}?{urlencode(asked)}"
