"""In whose name a written log is loaded where nobody is named."""

from __future__ import annotations

from django.contrib.auth.models import Group

from distillery.people.models import Person
from distillery.people.roles import STAFF


def hand(username: str, name: str) -> Person:
    """The account in whose name written logs are loaded. It holds no password, so nobody signs on with it."""
    person, made = Person.objects.get_or_create(username=username, defaults={"first_name": name})
    if made:
        person.set_unusable_password()
        person.save(update_fields=["password"])
        person.groups.set(Group.objects.filter(name=STAFF))
    return person
