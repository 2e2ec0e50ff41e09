"""People of the tests, made as the program makes them: claimed and sealed."""

from __future__ import annotations

from typing import Any

from distillery.seals.writing import signed


@signed("tests")
def somebody(username: str, *roles: str, **more: Any) -> Any:
    """A person with this sign-on name and these roles."""
    from django.contrib.auth.models import Group

    from distillery.people.models import Person

    person = Person.objects.create_user(username, **more)
    person.groups.set(Group.objects.filter(name__in=roles))
    return person
