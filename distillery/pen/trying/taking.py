"""Who it is that takes the pen, or puts a second name to something: by PIN at an enrolled PC, by password anywhere."""

from __future__ import annotations

from typing import Final

from django.contrib.auth import authenticate
from django.http import HttpRequest
from django.views.decorators.debug import sensitive_variables

from distillery.pen.pcs import pc_of
from distillery.pen.trying import passes, pins
from distillery.pen.trying.tries import Place, Refused, Way, compared
from distillery.people.models import Person

# A longer one is nobody's, and no database need look for it: SQLite refuses to beyond 50,000 bytes.
LONGEST_NAME: Final = Person._meta.get_field("username").max_length or 0
NOT_KNOWN_HERE = "PINs work only at PCs that a manager has enrolled. Type your password."


def person_named(name: str) -> Person | None:
    """The person with this sign-on name, in capital or small letters; None where there is none or more than one."""
    name = name.strip()
    if len(name) > LONGEST_NAME:
        return None
    exact = Person.objects.filter(username=name, is_active=True).first()
    if exact is not None:
        return exact
    alike = list(Person.objects.filter(username__iexact=name, is_active=True)[:2])
    return alike[0] if len(alike) == 1 else None


def place_of(request: HttpRequest) -> Place:
    """Where a request comes from."""
    pc = pc_of(request)
    return Place(pc.name if pc else "", request.META.get("REMOTE_ADDR", "")[:60])


@sensitive_variables()
def proven(request: HttpRequest, name: str, secret: str) -> Person:
    """The person with this name, shown to be there by PIN or password. Raises Refused, ManySigningOn."""
    person, place = person_named(name), place_of(request)
    if person is not None and place.pc and pins.looks_like_a_pin(secret) and pins.has_pin(person):
        found = compared(person, Way.PIN, place, lambda: person if pins.is_pin_of(person, secret) else None)
    else:
        signs_on_as = person.username if person is not None else name.strip()
        found = compared(
            person,
            Way.PASSWORD,
            place,
            lambda: _as_person(authenticate(request, username=signs_on_as, password=secret)),
        )
    return still_welcome(found)


@sensitive_variables()
def prove_password(request: HttpRequest, person: Person, password: str) -> None:
    """Sees to it that the person knows their own password; no PIN will do. Raises Refused, ManySigningOn."""
    compared(
        person,
        Way.PASSWORD,
        place_of(request),
        lambda: _as_person(authenticate(request, username=person.username, password=password)),
        wrong="That is not your password; type the one you sign on with.",
    )


def still_welcome(person: Person) -> Person:
    """The person, unless a pass has ended. Raises Refused."""
    ended = passes.ended_pass(person)
    if ended is not None:
        raise Refused(passes.ended_in_words(ended))
    return person


def _as_person(found: object) -> Person | None:
    return found if isinstance(found, Person) else None
