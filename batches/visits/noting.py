"""Visit notes: an officer writes them, and puts a wrong one right by another. Nobody of the site can do either."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from typing import Final

from django.db.models import Max, QuerySet
from django.urls import reverse
from django.utils import timezone

from batches.handover.noting import SENT_TWICE, filled
from batches.sheets.sheet import Problem
from batches.sheets.typed.read_sheet import Unfit
from batches.visits.models import VisitNote
from distillery import figures
from distillery.clock.reading import books_now, books_today
from distillery.database.retrying import retried
from distillery.people.models import Person
from distillery.people.roles import is_officer
from distillery.seals.writing import signed
from distillery.signed import Shown, digest_of
from ledger.proof.checking import Asked, Checked, beginning

# As many characters as still stand on one page of a list on paper, whose rows are never split.
LONGEST_NOTE: Final = 2_000
A_NUMBER: Final = re.compile(r"vn[ -]?([0-9]{1,9})")


def shown_of(note: VisitNote) -> Shown:
    """All that a note says, label by label; what its digest is taken over."""
    return {
        "Visit note": str(note),
        "Day of the visit": figures.day(note.visited_on, year=True),
        "By": note.person.username,
        "Written": note.written_at.isoformat(),
        "Note": note.text,
        "Puts right": str(note.corrects) if note.corrects is not None else "",
    }


@retried
@signed("visit note")
def write_visit_note(text: str, *, visited_on: date, person: Person, corrects: VisitNote | None = None) -> VisitNote:
    """Writes a note of a visit, or one that puts an earlier one right.

    Raises Unfit: for everybody but an officer, for a day still to come, where nothing is said or more than
    LONGEST_NOTE characters, where the earlier note is put right already. Raises Busy.
    """
    _refuse_others(person)
    said = filled("text", text, "Note", LONGEST_NOTE)
    if visited_on > books_today():
        sentence = f"{figures.day(visited_on, year=True)} is still to come; write the day on which you were here."
        raise Unfit([Problem("visited_on", None, sentence)])
    now = timezone.now()
    same = VisitNote.objects.filter(person=person, text=said, visited_on=visited_on, corrects=corrects)
    if (twice := same.filter(written_at__gte=now - SENT_TWICE).first()) is not None:
        return twice
    if corrects is not None and VisitNote.objects.filter(corrects=corrects).exists():
        sentence = f"{corrects} is put right already: put right the note that did so."
        raise Unfit([Problem("", None, sentence)])
    last = VisitNote.objects.aggregate(last=Max("number"))["last"] or 0
    note = VisitNote(
        number=last + 1,
        visited_on=visited_on,
        said_at=books_now(),
        written_at=now,
        person=person,
        text=said,
        corrects=corrects,
    )
    note.digest = digest_of(shown_of(note))
    note.save(force_insert=True)
    return note


def visit_notes_numbered(text: str) -> list[VisitNote]:
    """The note whose number somebody typed, noughts and capitals left out or not; none for anything else."""
    match = A_NUMBER.fullmatch(text.strip().casefold())
    return list(visit_notes().filter(number=int(match[1]))) if match is not None else []


def visit_notes() -> QuerySet[VisitNote]:
    """All notes, the newest visit first."""
    return VisitNote.objects.select_related("person", "corrects", "put_right_by").order_by("-visited_on", "-number")


def notes_since(day: date) -> list[VisitNote]:
    """The notes of visits on a day or after it, in order of time."""
    return list(visit_notes().filter(visited_on__gte=day).order_by("visited_on", "number"))


def find_visit_notes(asked: Asked) -> Iterator[Checked]:
    """Visit notes whose digest begins as asked."""
    for note in beginning(visit_notes(), "digest", asked.digest):
        digest = digest_of(shown_of(note))
        agrees = digest == note.digest
        day = figures.day(note.visited_on, year=True)
        sentence = f"It is the digest of what {note.person.shown_name} noted of the visit of {day}"
        sentence += "." if agrees else ", but what the database now holds does not give this digest."
        yield Checked(f"Visit note {note}", reverse("visit_note", args=[note.number]), agrees, digest, sentence)


def _refuse_others(person: Person) -> None:
    if not is_officer(person):
        raise Unfit(
            [Problem("", None, f"{person.shown_name} is no officer: visit notes are written by officers only.")]
        )
