"""Notes of the shift: written, and struck by another word with its reason. What was struck stays to be read."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from django.db.models import QuerySet
from django.utils import timezone

from batches.handover.models import Note
from batches.sheets.sheet import Problem
from batches.sheets.typed.read_sheet import Unfit
from distillery.clock.reading import books_now
from distillery.database.retrying import retried
from distillery.figures import count
from distillery.people.models import Person
from distillery.people.roles import may_write
from distillery.seals.writing import signed

# A note is read standing; a longer text belongs on a sheet or into the handover.
LONGEST_NOTE: Final = 500
# How far back the notes of a shift are shown.
ONE_SHIFT: Final = timedelta(hours=16)
MOST_SHOWN: Final = 12
# The same words of the same person within so long are one press that was sent twice.
SENT_TWICE: Final = timedelta(minutes=1)


@retried
@signed("note")
def write_note(text: str, *, person: Person) -> Note:
    """Writes a note at this moment. Raises Unfit, Busy."""
    refuse_reader(person)
    said = filled("text", text, "Note", LONGEST_NOTE)
    now = timezone.now()
    twice = Note.objects.filter(person=person, text=said, strikes=None, written_at__gte=now - SENT_TWICE).first()
    if twice is not None:
        return twice
    return Note.objects.create(said_at=books_now(), written_at=now, person=person, text=said)


@retried
@signed("note")
def strike_note(note: Note, *, person: Person, reason: str, text: str = "") -> Note:
    """Strikes a note, with another text in its place or none. Raises Unfit, Busy."""
    refuse_reader(person)
    why = filled("reason", reason, "Why", LONGEST_NOTE)
    if len(text.strip()) > LONGEST_NOTE:
        filled("text", text, "Note", LONGEST_NOTE)
    if Note.objects.filter(strikes=note).exists():
        raise Unfit([Problem("", None, "This note is struck already.")])
    return Note.objects.create(
        said_at=note.said_at,
        written_at=timezone.now(),
        person=person,
        text=text.strip(),
        strikes=note,
        reason=why,
    )


def notes_of_shift(now: datetime | None = None) -> list[Note]:
    """Notes of the last hours, the newest first, struck ones with what struck them; at most MOST_SHOWN."""
    since = (now or books_now()) - ONE_SHIFT
    return list(notes().filter(said_at__gte=since)[:MOST_SHOWN])


def notes() -> QuerySet[Note]:
    """All notes, the newest first; a word that put another right follows the one it struck."""
    return Note.objects.select_related("person", "struck_by__person").order_by("-said_at", "-pk")


def refuse_reader(person: Person) -> None:
    """Raises Unfit for who may only read."""
    if not may_write(person):
        raise Unfit([Problem("", None, f"{person.shown_name} may read but not write; ask someone on shift.")])


def filled(field: str, text: str, label: str, longest: int) -> str:
    """The text without blanks around it. Raises Unfit where there is none, or too much."""
    said = text.strip()
    if not said:
        raise Unfit([Problem(field, None, f"{label} is blank; say it in a few words.")])
    if len(said) > longest:
        sentence = f"{label} is {count(len(said))} characters long; at most {count(longest)} are kept. Shorten it."
        raise Unfit([Problem(field, None, sentence)])
    return said
