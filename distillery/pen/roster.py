"""Who is on shift, where it is said by hand: put on for some hours, or taken off again.

Whoever takes the pen is on shift without a word (`shift.py`); this is for those who are on the site and have not been
at this PC yet, and for those who have gone home.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from django.db.models import Max
from django.utils import timezone

from distillery.database.retrying import retried
from distillery.pen.models import OnShift, Try
from distillery.people.models import Person
from distillery.people.roles import WRITERS, holds
from distillery.seals.writing import signed

# Whoever took the pen is on shift for this long after.
A_SHIFT: Final = timedelta(hours=12)
FEWEST_HOURS, MOST_HOURS = 1, 12


class NotOnShift(Exception):
    """Somebody cannot be put on shift as asked; one sentence, and the box it belongs to."""

    def __init__(self, sentence: str, field: str = "") -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field


def on_this_shift(now: datetime | None = None) -> dict[str, datetime]:
    """Sign-on names of who is on shift, with when they took the pen last or were put on, whichever is later.

    Having had the pen counts for who may write. Who was taken off is off until they take the pen again or are put on
    anew.
    """
    now = now or timezone.now()
    # An officer who signs on visits the site, and is on no shift of it.
    writers = Person.objects.filter(groups__name__in=WRITERS).values("username")
    taken = (
        Try.objects.filter(what=Try.What.RIGHT, at__gt=now - A_SHIFT, name__in=writers)
        .values("name")
        .annotate(last=Max("at"))
    )
    found: dict[str, datetime] = {row["name"]: row["last"] for row in taken}
    said = OnShift.objects.filter(until__gt=now - A_SHIFT).select_related("person").order_by("since", "pk")
    for one in said:
        name = one.person.username
        if one.ended_at is not None:
            if name in found and found[name] <= one.ended_at:
                del found[name]
        elif one.until > now:
            found[name] = max(one.since, found.get(name, one.since))
    return found


@retried
@signed("putting somebody on shift")
def put_on(person: Person, *, hours: int, by: Person) -> OnShift:
    """Puts somebody on shift from now for some hours. Raises NotOnShift."""
    _who_may(by)
    if not FEWEST_HOURS <= hours <= MOST_HOURS:
        raise NotOnShift(f"A shift lasts {FEWEST_HOURS} to {MOST_HOURS} hours, not {hours}.", "hours")
    if not person.is_active or not person.groups.exists():
        raise NotOnShift(f"{person.shown_name} may not sign on here; a manager sees to that on the site page.", "name")
    now = timezone.now()
    return OnShift.objects.create(person=person, since=now, until=now + timedelta(hours=hours), by=by)


@retried
@signed("taking somebody off shift")
def take_off(person: Person, *, by: Person) -> None:
    """Takes somebody off shift, however they came to be on it. Raises NotOnShift."""
    _who_may(by)
    now = timezone.now()
    if person.username not in on_this_shift(now):
        raise NotOnShift(f"{person.shown_name} is not on shift.", "name")
    standing = OnShift.objects.filter(person=person, ended_at__isnull=True, until__gt=now)
    if not standing.update(ended_by=by, ended_at=now):
        # On shift by having had the pen: what ends it is said in a row of its own.
        OnShift.objects.create(
            person=person, since=now, until=now + timedelta(seconds=1), by=by, ended_by=by, ended_at=now
        )


def _who_may(person: Person) -> None:
    if not holds(person, WRITERS):
        raise NotOnShift("Shift staff, a manager or an administrator says who is on shift.")
