"""Tries to take the pen, and the waits that grow with wrong ones.

Three wrong tries are free, then each is followed by a wait: 30 seconds, doubled to 15 minutes (NIST SP 800-63B-4, waits
of 30 seconds to an hour). Ten wrong PINs stop that PIN. A password waits by person and place, so that nobody can keep a
person out from elsewhere; who tries many names at one place waits for all of them but a name not tried there yet, so
that a colleague can always sign on. A kept library counts failures and locks after a number of them, but its waits do
not grow, PINs are none of its business, and it changes its rows; one table with rows that are only added serves all.

A try is written before anything is compared and counts as wrong until it is answered, so that fifty at one moment get
no further than fifty in turn. None of this is a fact of the books: it is written outside their seals.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final, TypeVar

from django.db import connection, transaction
from django.db.models import QuerySet
from django.utils import timezone

from distillery import figures
from distillery.database.in_line import in_line
from distillery.database.retrying import retried
from distillery.pen.models import PinChosen, Try
from distillery.people.models import Person

FREE: Final = 3
FIRST_WAIT_S: Final = 30
LONGEST_WAIT_S: Final = 15 * 60
PIN_STOPS_AT: Final = 10
# Wrong passwords at one place within an hour, whoever's, from which on names tried there wait for one another.
FREE_AT_A_PLACE: Final = 10
COUNTED: Final = timedelta(hours=24)
COUNTED_AT_A_PLACE: Final = timedelta(hours=1)
# Any number will do, as long as nothing else in the database locks it.
TRIES_LOCK: Final = 7_284_502

Given = TypeVar("Given")
Way = Try.Way


class Refused(Exception):
    """A try that was not looked at, or was wrong; one sentence that says what to do, and seconds to wait."""

    def __init__(self, sentence: str, *, wait_s: int = 0) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.wait_s = wait_s


@dataclass(frozen=True, slots=True)
class Place:
    """Where a try is made: at an enrolled PC by its name, else at an address of the network."""

    pc: str
    address: str


def wait_after(wrong: int) -> int:
    """Seconds to wait after so many wrong tries: 0, then 30 doubled up to 900."""
    return 0 if wrong < FREE else min(FIRST_WAIT_S << min(wrong - FREE, 10), LONGEST_WAIT_S)


def wrong_pins(person: Person) -> int:
    """Wrong tries at a person's PIN since one was right or the PIN was chosen; from 10 on it is stopped."""
    return len(_misses(_pins_since(person)))


def compared(
    person: Person | None,
    way: Way,
    place: Place,
    compare: Callable[[], Given | None],
    *,
    wrong: str = "",
    now: datetime | None = None,
) -> Given:
    """What `compare` gives, where it is something: then the try was right. `person` is None for a name not known here.

    `wrong` is what to say of a wrong password where the page asks for no name.

    Raises Refused, where a wait stands or the try was wrong. Whatever `compare` raises is raised, and does not count.
    """
    made = _begin(person, way, place, now or timezone.now())
    try:
        found = compare()
    except Exception:
        _answer(made, Try.What.NOT_LOOKED_AT)
        raise
    if found is None:
        raise Refused(_wrong(person, way, made, wrong), wait_s=made.wait_s)
    _answer(made, Try.What.RIGHT)
    return found


@retried
def _begin(person: Person | None, way: Way, place: Place, now: datetime) -> Try:
    """Writes a try down, with what follows if it is wrong. Raises Refused where it has to wait."""
    with in_line(), transaction.atomic():
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SELECT pg_advisory_xact_lock(%s)", [TRIES_LOCK])
        wait_s, stops = (
            _of_pin(person, now) if way == Way.PIN and person is not None else _of_place(person, way, place, now)
        )
        return Try.objects.create(
            at=now,
            name=person.username if person else "",
            way=way,
            what=Try.What.TRIED,
            pc=place.pc,
            address=place.address,
            wait_s=wait_s,
            stops=stops,
        )


@retried
def _answer(made: Try, what: Try.What) -> None:
    Try.objects.create(
        at=timezone.now(),
        name=made.name,
        way=made.way,
        what=what,
        answers=made,
        pc=made.pc,
        address=made.address,
    )


def _of_pin(person: Person, now: datetime) -> tuple[int, bool]:
    """What follows on one more wrong PIN. Raises Refused."""
    misses = _misses(_pins_since(person))
    if len(misses) >= PIN_STOPS_AT:
        raise Refused(stopped_in_words(person))
    _refuse_waiting(misses, wait_after(len(misses)), now)
    return wait_after(len(misses) + 1), len(misses) + 1 >= PIN_STOPS_AT


def _of_place(person: Person | None, way: Way, place: Place, now: datetime) -> tuple[int, bool]:
    """What follows on one more wrong password or key of a person at a place. Raises Refused."""
    at_place = Try.objects.exclude(way=Way.PIN).filter(pc=place.pc, address=place.address)
    lately = _misses(at_place.filter(at__gt=now - COUNTED_AT_A_PLACE))
    if person is None:
        own = _misses(at_place.filter(name="", at__gt=now - COUNTED_AT_A_PLACE))
    else:
        own = _misses(_since_right(at_place.filter(name=person.username, way=way, at__gt=now - COUNTED)))
    _refuse_waiting(own, wait_after(len(own)), now)
    together = FREE + len(lately) - FREE_AT_A_PLACE
    if own or person is None:
        _refuse_waiting(lately, wait_after(together), now)
    return max(wait_after(len(own) + 1), wait_after(together + 1)), False


def _refuse_waiting(misses: list[datetime], wait_s: int, now: datetime) -> None:
    if not misses or not wait_s:
        return
    left = int((misses[-1] + timedelta(seconds=wait_s) - now).total_seconds() + 0.999)
    if left > 0:
        raise Refused(f"Wait {_long(left)} before the next try. Others can take the pen meanwhile.", wait_s=left)


def _misses(tries: QuerySet[Try]) -> list[datetime]:
    """When the wrong ones of some tries were made, in order."""
    wrong = tries.filter(what=Try.What.TRIED, answer__isnull=True).order_by("at", "pk")
    return list(wrong.values_list("at", flat=True))


def _pins_since(person: Person) -> QuerySet[Try]:
    tries = _since_right(Try.objects.filter(name=person.username, way=Way.PIN))
    chosen = PinChosen.objects.filter(person=person).order_by("-at").values_list("at", flat=True).first()
    return tries if chosen is None else tries.filter(at__gte=chosen)


def _since_right(tries: QuerySet[Try]) -> QuerySet[Try]:
    right = tries.filter(what=Try.What.RIGHT).order_by("-pk").values_list("pk", flat=True).first()
    return tries if right is None else tries.filter(pk__gt=right)


def _wrong(person: Person | None, way: Way, made: Try, of_password: str) -> str:
    said = of_password or "Name and password do not belong together; try again."
    if way == Way.PIN and person is not None:
        if made.stops:
            return f"That PIN does not match. {stopped_in_words(person)}"
        left = PIN_STOPS_AT - wrong_pins(person)
        said = f"That PIN does not match. {left} {'try' if left == 1 else 'tries'} left."
    elif way == Way.KEY:
        said = "That key is not known here."
    return f"{said} Wait {_long(made.wait_s)} before the next." if made.wait_s else said


def stopped_in_words(person: Person) -> str:
    """Why a PIN is taken no longer, and the way out."""
    return (
        f"The PIN of {person.shown_name} is stopped after {PIN_STOPS_AT} wrong tries. A manager, or two others who "
        "write, let it be chosen anew; the password still works, and others can take the pen."
    )


def _long(seconds: int) -> str:
    return f"{seconds} s" if seconds < 60 else figures.span(timedelta(seconds=seconds))
