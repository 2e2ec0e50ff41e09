"""An officer's dated pass: leave to read everything until a moment, after which it has ended by itself."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Final

from django.contrib.auth.models import Group
from django.core.exceptions import ValidationError
from django.utils import timezone

from distillery import figures
from distillery.clock.reading import site_day
from distillery.database.retrying import retried
from distillery.pen.models import DatedPass
from distillery.people.models import Person
from distillery.people.roles import EXPLAINERS, OFFICER, holds
from distillery.seals.writing import signed

# Letters that are not taken for one another, so that a password can be read out.
LETTERS: Final = "abcdefghjkmnpqrtuvwxy"
GROUPS: Final = 4


class NoPass(Exception):
    """A pass cannot be made so; one sentence, and the box it belongs to."""

    def __init__(self, sentence: str, field: str = "") -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field


@dataclass(frozen=True, slots=True)
class Made:
    """A pass, with the password to sign on with, which is nowhere kept."""

    given: DatedPass
    password: str


def last_pass(person: Person) -> DatedPass | None:
    """The pass of a person that lasts longest; None for who reads by none."""
    return DatedPass.objects.filter(person=person).order_by("-ends_at").first()


def ended_pass(person: Person, now: datetime | None = None) -> DatedPass | None:
    """The last pass of a person who reads by passes and has none that stands; None for everybody else."""
    last = last_pass(person)
    return last if last is not None and last.ends_at <= (now or timezone.now()) else None


def ended_in_words(given: DatedPass) -> str:
    """Why somebody can no longer sign on."""
    return f"Your pass ended {figures.moment(given.ends_at, year=True)}. A manager makes another."


@retried
@signed("making a pass")
def make(*, person: Person, username: str, name: str, last_day: date | None = None) -> Made:
    """Makes a pass to the end of a day on the site's clock, of today where none is named, with a password of its own.

    `person` makes it, `username` and `name` are the officer's; an officer who is here already gets another pass and
    another password. Raises NoPass.
    """
    if not holds(person, EXPLAINERS):
        raise NoPass("A manager makes passes.")
    now = timezone.now()
    last_day = last_day or site_day(now)
    if last_day < site_day(now):
        raise NoPass("That day is over; a pass ends today or later.", "last_day")
    ends_at = timezone.make_aware(datetime.combine(last_day, time(23, 59, 59)))
    officer = _officer(username.strip(), " ".join(name.split()))
    password = "-".join("".join(secrets.choice(LETTERS) for _ in range(4)) for _ in range(GROUPS))
    officer.set_password(password)
    officer.save()
    officer.groups.set(Group.objects.filter(name=OFFICER))
    return Made(DatedPass.objects.create(person=officer, made_by=person, made_at=now, ends_at=ends_at), password)


def _officer(username: str, name: str) -> Person:
    """The officer, as here already or new. Raises NoPass."""
    found = Person.objects.filter(username__iexact=username).first()
    if found is not None:
        if {group.name for group in found.groups.all()} != {OFFICER} or not found.is_active:
            raise NoPass(f"{found.shown_name} has another part here; give the officer another name.", "username")
        return found
    first, _, last = name.partition(" ")
    made = Person(username=username, first_name=first, last_name=last)
    try:
        made.full_clean(exclude=["password"])
    except ValidationError as error:
        raise NoPass(" ".join(error.messages), "username") from error
    return made
