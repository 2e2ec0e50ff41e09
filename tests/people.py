"""People of the tests, made as the program makes them: claimed and sealed."""

from __future__ import annotations

from typing import Any

from distillery.seals.writing import signed


def agreed_by(person: Any) -> dict[str, str]:
    """The boxes in which a person of the tests signs as the second, in place."""
    from tests.conftest import PASSWORD

    return {"second_name": person.username, "second_password": PASSWORD}


@signed("tests")
def somebody(username: str, *roles: str, **more: Any) -> Any:
    """A person with this sign-on name and these roles."""
    from django.contrib.auth.models import Group

    from distillery.people.models import Person

    person = Person.objects.create_user(username, **more)
    person.groups.set(Group.objects.filter(name__in=roles))
    return person
