"""Blank sheets with serials: issued one after another, found by what was typed, and taken back. Times are real time."""

from __future__ import annotations

import re

from django.db.models import Max
from django.utils import timezone

from distillery.database.retrying import retried
from distillery.people.models import Person
from distillery.prints.models import SERIAL_PREFIX, IssuedSheet, SheetReturned
from distillery.seals.writing import signed

WAY = "blank sheets"
_SERIAL = re.compile(rf"(?:{SERIAL_PREFIX})?\s*0*(\d{{1,12}})", re.IGNORECASE)


class NoSuchSheet(ValueError):
    """What was typed is the serial of no sheet that was issued; one sentence that says what to do."""


class NotReturned(ValueError):
    """The sheet cannot be taken back so; one sentence."""


@retried
@signed(WAY)
def issue(
    kind: str, title: str, number: int, *, to: str = "", lines: bool = False, person: Person
) -> list[IssuedSheet]:
    """The next `number` serials for sheets of a kind, in order; `to` is who gets them, else who prints them."""
    last = IssuedSheet.objects.aggregate(last=Max("serial"))["last"] or 0
    now, holder = timezone.now(), to.strip()[:150] or person.shown_name
    sheets = [
        IssuedSheet(
            serial=last + place,
            kind=kind,
            title=title[:200],
            lines=lines,
            place=place,
            of=number,
            issued_to=holder,
            by=person,
            at=now,
        )
        for place in range(1, number + 1)
    ]
    for sheet in sheets:
        sheet.save(force_insert=True)
    return sheets


def sheet_called(typed: str) -> IssuedSheet:
    """The issued sheet whose serial was typed: 'BS0012', 'bs 12', '12'. Raises NoSuchSheet."""
    text = typed.strip()
    found = _SERIAL.fullmatch(text)
    sheet = IssuedSheet.objects.filter(serial=int(found[1])).first() if found is not None else None
    if sheet is None:
        raise NoSuchSheet(
            f"No blank sheet '{text[:20]}' was issued; read the serial at its head again, such as {SERIAL_PREFIX}0012."
        )
    return sheet


@retried
@signed(WAY)
def take_back(typed: str, what: str, *, person: Person) -> SheetReturned:
    """Notes what came of an issued sheet, once. Raises NoSuchSheet, NotReturned."""
    sheet = sheet_called(typed)
    if what not in SheetReturned.What.values:
        raise NotReturned(f"Say what came of {sheet}: used, still blank, spoilt or lost.")
    if SheetReturned.objects.filter(sheet=sheet).exists():
        raise NotReturned(f"{sheet} was taken back before; what was said of it stands.")
    back = SheetReturned(sheet=sheet, what=what, by=person, at=timezone.now())
    back.save(force_insert=True)
    return back
