"""What each role may do, and the one check that stands before every write.

Roles are Django groups, so a person may hold more than one. Reading needs only a signed-on person.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase

from distillery.people.models import Person

STAFF = "staff"
MANAGER = "manager"
OFFICER = "officer"
ADMINISTRATOR = "administrator"
ROLES = (STAFF, MANAGER, OFFICER, ADMINISTRATOR)

WRITERS = frozenset({STAFF, MANAGER, ADMINISTRATOR})
EXPLAINERS = frozenset({MANAGER})
CLOSERS = frozenset({MANAGER})
PLANT_KEEPERS = frozenset({MANAGER, ADMINISTRATOR})
# Who reads how the site is set up; an officer enters nothing of it.
SITE_READERS = PLANT_KEEPERS | {OFFICER}


def holds(person: Person | AnonymousUser, roles: frozenset[str]) -> bool:
    """True when the person holds one of the roles. Read once for a person and kept on the object."""
    if not isinstance(person, Person) or not person.is_active:
        return False
    held: frozenset[str] | None = getattr(person, "_roles_held", None)
    if held is None:
        held = frozenset(person.groups.values_list("name", flat=True))
        person._roles_held = held  # type: ignore[attr-defined]
    return bool(held & roles)


def may_write(person: Person | AnonymousUser) -> bool:
    """True for staff, managers and administrators; never for an officer alone."""
    return holds(person, WRITERS)


def is_officer(person: Person | AnonymousUser) -> bool:
    """True for who holds the officer's role and none of the site."""
    return holds(person, frozenset({OFFICER})) and not may_write(person)


def may_open(person: Person | AnonymousUser, view: Callable[..., Any]) -> bool:
    """False for a page that `needs` guards against the roles the person holds."""
    roles: frozenset[str] | None = getattr(view, "open_to", None)
    return roles is None or holds(person, roles)


def needs(roles: frozenset[str]) -> Callable[[Callable[..., HttpResponseBase]], Callable[..., HttpResponseBase]]:
    """Guards a view: a person without one of the roles gets a 403 that says who to ask."""

    def guard(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if not holds(request.user, roles):
                raise PermissionDenied(
                    f"This needs the role {' or '.join(sorted(roles))}. "
                    "Ask the manager to do it or to give you the role."
                )
            return view(request, *args, **kwargs)

        # So that no page shows a way to what it would refuse.
        guarded.open_to = roles  # type: ignore[attr-defined]
        return guarded

    return guard
