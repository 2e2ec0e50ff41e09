"""Recording, by two people, that these books lack seals which paper holds: an older copy was put back in earnest."""

from __future__ import annotations

import re
from datetime import date

from django.utils import timezone

from distillery.database.retrying import retried
from distillery.people.models import Person
from distillery.people.roles import CLOSERS, holds, may_write
from distillery.seals.lookup import day_of, last_seal
from distillery.seals.models import BooksSeal, PutBack, SealGap
from distillery.seals.noted import SHORTEST
from distillery.seals.writing import signed, written_by

WRITTEN = re.compile(rf"[0-9a-f]{{{SHORTEST},64}}")


class NoGap(ValueError):
    """A gap that cannot be recorded: one sentence, and the box it concerns."""

    def __init__(self, sentence: str, *, field: str = "") -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field


@retried
def record_gap(
    *, noted_number: int, noted_seal: str, noted_on: date, reason: str, person: Person, second: Person
) -> SealGap:
    """Records that the seals up to the noted one are lost. Once recorded it is said ever after. Raises NoGap, Busy.

    `noted_seal` in small hexadecimal figures, 8 of them or more, as it stands on the newest paper or file.
    """
    if not holds(person, CLOSERS):
        raise NoGap(f"{person.shown_name} may not record this; a manager does.", field="reason")
    if person.pk == second.pk:
        raise NoGap(f"{person.shown_name} records it; another person has to agree.", field="second")
    if not may_write(second):
        raise NoGap(f"{second.shown_name} may not write, so cannot agree to this.", field="second")
    if not WRITTEN.fullmatch(noted_seal):
        raise NoGap("Write the seal as it is printed, 8 to 64 of 0 to 9 and a to f.", field="noted_seal")
    if noted_number < 1:
        raise NoGap("The number of a seal is 1 or more; it is printed before its day.", field="noted_number")
    if not reason.strip():
        raise NoGap("Why is blank; say which copy was put back, and why.", field="reason")
    with written_by(person, "record_gap"):
        here = BooksSeal.objects.filter(number=noted_number).first()
        if here is not None and here.seal.startswith(noted_seal):
            raise NoGap(f"Seal {noted_number} stands in these books, made on {day_of(here)}; nothing is lost.")
        if SealGap.objects.filter(noted_number__gte=noted_number).exists():
            raise NoGap(f"The loss of seal {noted_number} is recorded already.", field="noted_number")
        return SealGap.objects.create(
            noted_number=noted_number,
            noted_seal=noted_seal,
            noted_on=noted_on,
            after=_kept_before(noted_number, noted_on),
            reason=reason.strip(),
            person=person,
            second=second,
            recorded_at=timezone.now(),
        )


@signed("restore")
def note_put_back(copy: str) -> PutBack:
    """Notes that a copy of this name was put back, and with which seal it ended."""
    last = last_seal()
    return PutBack.objects.create(at=timezone.now(), copy=copy[:200], number=last.number if last is not None else 0)


def _kept_before(noted_number: int, noted_on: date) -> int:
    """The last seal that these books share with the paper: that of the copy, else the last one of the days before."""
    copies = PutBack.objects.filter(number__lt=noted_number).order_by("-pk").values_list("number", flat=True)
    if copies:
        return copies[0]
    older = BooksSeal.objects.filter(number__lt=noted_number, made_at__date__lt=noted_on).order_by("-number")
    return older.values_list("number", flat=True).first() or 0
