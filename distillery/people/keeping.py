"""How people come onto the site, get other roles, leave and come back: each with who did it, when and why."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from django.contrib.auth.models import Group
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.utils import timezone

from distillery.people.changes import PersonChange
from distillery.people.models import Person
from distillery.people.roles import MANAGER, OFFICER, PLANT_KEEPERS, ROLES, WRITERS, holds, may_write
from distillery.seals.writing import signed

What = PersonChange.What
LONGEST_REASON: Final = 400


class Unchangeable(ValueError):
    """A person cannot be made or changed as asked; the sentence says why, `field` which box."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field
        self.sentence = sentence


@signed("people")
def add_person(
    *,
    username: str,
    first_name: str,
    last_name: str,
    roles: Collection[str],
    password: str,
    reason: str,
    person: Person,
) -> Person:
    """A person new on the site, who may sign on from now. `person` is who makes them. Raises Unchangeable."""
    _who_may(person)
    held = _fitting(roles)
    made = _made(username, first_name, last_name, password, held)
    _note(made, What.MADE, person, reason, held)
    return made


@signed("first run")
def add_first_manager(*, username: str, first_name: str, last_name: str, password: str) -> Person:
    """The first manager of a site on which there is nobody; nobody made them. Raises Unchangeable."""
    if Person.objects.exists():
        raise Unchangeable("", "Somebody is on the site already: a manager lets others in under Site, People.")
    made = _made(username, first_name, last_name, password, (MANAGER,))
    _note(made, What.MADE, None, "", (MANAGER,))
    return made


def _made(username: str, first_name: str, last_name: str, password: str, held: Collection[str]) -> Person:
    """Somebody new. Raises Unchangeable."""
    made = Person(username=username.strip(), first_name=first_name.strip(), last_name=last_name.strip())
    if Person.objects.filter(username__iexact=made.username).exists():
        raise Unchangeable(
            "username",
            f"{made.username} is on the list already, perhaps as somebody who left: bring them back there, or choose "
            "another name.",
        )
    _set_password(made, password)
    try:
        made.full_clean(exclude=["password"])
    except ValidationError as error:
        field, sentences = next(iter(error.message_dict.items()))
        raise Unchangeable(field, " ".join(sentences)) from error
    made.save()
    made.groups.set(Group.objects.filter(name__in=held))
    return made


@signed("people")
def give_roles(somebody: Person, roles: Collection[str], *, reason: str, person: Person) -> PersonChange:
    """Other roles from now on. Raises Unchangeable, also where nobody would be left to look after people."""
    _who_may(person)
    held = _fitting(roles)
    if held == roles_of(somebody):
        raise Unchangeable("roles", f"{somebody.shown_name} holds these roles already.")
    if not PLANT_KEEPERS & set(held):
        _not_the_last(somebody, "roles")
    somebody.groups.set(Group.objects.filter(name__in=held))
    return _note(somebody, What.ROLES, person, reason, held)


@signed("people")
def end(somebody: Person, *, reason: str, person: Person) -> PersonChange:
    """They may no longer sign on; what they wrote stays theirs, and their sessions end. Raises Unchangeable."""
    _who_may(person)
    if somebody == person:
        raise Unchangeable("reason", "Nobody ends themselves: another manager or administrator does it.")
    if not somebody.is_active:
        raise Unchangeable("reason", f"{somebody.shown_name} may no longer sign on already.")
    _not_the_last(somebody, "reason")
    somebody.is_active = False
    somebody.save(update_fields=["is_active"])
    return _note(somebody, What.ENDED, person, reason, roles_of(somebody))


@signed("people")
def bring_back(somebody: Person, *, password: str, reason: str, person: Person) -> PersonChange:
    """They may sign on again, with a new password, so that no session from before stands. Raises Unchangeable."""
    _who_may(person)
    if somebody.is_active:
        raise Unchangeable("reason", f"{somebody.shown_name} may sign on already.")
    _set_password(somebody, password)
    somebody.is_active = True
    somebody.save(update_fields=["is_active", "password"])
    return _note(somebody, What.BACK, person, reason, roles_of(somebody))


@signed("people")
def give_password(somebody: Person, *, password: str, reason: str, person: Person) -> PersonChange:
    """A new password; sessions opened with the old one end. Raises Unchangeable."""
    _who_may(person)
    _set_password(somebody, password)
    somebody.save(update_fields=["password"])
    return _note(somebody, What.PASSWORD, person, reason, roles_of(somebody))


@signed("people")
def change_own_password(*, person: Person, password: str) -> PersonChange:
    """Another password of their own, once they have shown that they know the present one. Raises Unchangeable."""
    if not may_write(person):
        raise Unchangeable("", "An officer's password comes with the pass and ends with it; a manager makes another.")
    if person.check_password(password):
        raise Unchangeable("password", "This is the password you have; choose another.")
    _set_password(person, password)
    person.save(update_fields=["password"])
    return _note(person, What.PASSWORD, person, "changed by its owner", roles_of(person))


@signed("people")
def note_by_command(somebody: Person, what: PersonChange.What) -> PersonChange:
    """Writes down what a command did about a person."""
    return _note(somebody, what, None, "", roles_of(somebody))


def roles_of(somebody: Person) -> tuple[str, ...]:
    """The roles a person holds, in the order of ROLES."""
    held = set(somebody.groups.values_list("name", flat=True))
    return tuple(role for role in ROLES if role in held)


def _note(
    somebody: Person, what: PersonChange.What, by: Person | None, reason: str, roles: Collection[str]
) -> PersonChange:
    if by is not None and not reason.strip():
        raise Unchangeable("reason", "Say why: it is kept with your name.")
    if len(reason) > LONGEST_REASON:
        raise Unchangeable("reason", f"This is longer than {LONGEST_REASON} characters: shorten it.")
    return PersonChange.objects.create(
        person=somebody, what=what, roles=", ".join(roles), reason=reason.strip(), by=by, at=timezone.now()
    )


def _fitting(roles: Collection[str]) -> tuple[str, ...]:
    held = tuple(role for role in ROLES if role in roles)
    if not held:
        raise Unchangeable("roles", "Choose at least one role: without one nothing may be done.")
    if OFFICER in held and WRITERS & set(held):
        raise Unchangeable("roles", "An officer reads and writes nothing: give that role alone.")
    return held


def _set_password(somebody: Person, password: str) -> None:
    try:
        validate_password(password, somebody)
    except ValidationError as error:
        raise Unchangeable("password", " ".join(error.messages)) from error
    somebody.set_password(password)


def _not_the_last(somebody: Person, field: str) -> None:
    others = Person.objects.filter(is_active=True, groups__name__in=PLANT_KEEPERS).exclude(pk=somebody.pk)
    if not others.exists():
        raise Unchangeable(
            field, f"{somebody.shown_name} is the last who may look after people: give that role to another first."
        )


def _who_may(person: Person) -> None:
    if not holds(person, PLANT_KEEPERS):
        raise Unchangeable("", "A manager or an administrator looks after people; ask one of them.")
