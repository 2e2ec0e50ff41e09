"""The people of the demonstration site, and how to tell its database from one in earnest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from django.apps import apps
from django.contrib.auth.models import Group

from distillery.people.changes import PersonChange
from distillery.people.keeping import note_by_command
from distillery.people.models import Person
from distillery.people.roles import ADMINISTRATOR, MANAGER, OFFICER, STAFF
from distillery.seals.writing import signed
from distillery.starting.where import FIXTURES

TABLES: Final = FIXTURES / "sample-month"

# RFC 2606 keeps .invalid free of real addresses, so only the demonstration can have these.
MARK: Final = "harrowmere.invalid"


@dataclass(frozen=True, slots=True)
class Guest:
    """One invented person, with the password that the demonstration prints."""

    username: str
    first_name: str
    last_name: str
    role: str
    password: str

    @property
    def email(self) -> str:
        return f"{self.username}@{MARK}"


GUESTS: Final = (
    Guest("brodie", "Brodie", "Catterwell", STAFF, "low-wines-24"),
    Guest("isla", "Isla", "Venmore", MANAGER, "middle-cut-70"),
    Guest("tamsin", "Tamsin", "Orrick", OFFICER, "read-only-12"),
    Guest("jory", "Jory", "Penhallick", ADMINISTRATOR, "copper-lid-38"),
)
WRITES_THE_LOG: Final = "brodie"
SIGNS_AS_SECOND: Final = "isla"


def is_demonstration() -> bool:
    """True when the database is the demonstration, whatever has been recorded in it since."""
    there = set(Person.objects.filter(email__endswith=f"@{MARK}").values_list("email", flat=True))
    return there >= {guest.email for guest in GUESTS}


def is_empty() -> bool:
    """True when the database knows no person and no plant: then it holds no fact, since each has a person behind it."""
    return not Person.objects.exists() and not any(
        model._default_manager.exists() for model in apps.get_app_config("plant").get_models()
    )


@signed("demo")
def invite() -> None:
    """Makes the people of the demonstration."""
    for guest in GUESTS:
        person = Person.objects.create_user(
            guest.username,
            email=guest.email,
            password=guest.password,
            first_name=guest.first_name,
            last_name=guest.last_name,
        )
        person.groups.add(Group.objects.get(name=guest.role))
        note_by_command(person, PersonChange.What.MADE)
