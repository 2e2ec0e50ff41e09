"""Lets a person sign on, with the roles given, or no longer."""

from __future__ import annotations

import sys
from getpass import getpass
from typing import Any

from django.contrib.auth.models import Group
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from distillery.people.changes import PersonChange
from distillery.people.keeping import note_by_command
from distillery.people.models import Person
from distillery.people.roles import ROLES
from distillery.seals.writing import written_by


class Command(BaseCommand):
    help = "Adds a person, or changes roles, password or whether the person may sign on. What they wrote stays theirs."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("username", help="the name to sign on with")
        parser.add_argument("--role", action="append", choices=ROLES, help="repeat for more than one; replaces earlier")
        parser.add_argument("--first-name")
        parser.add_argument("--last-name")
        parser.add_argument(
            "--password", action="store_true", help="ask for a new password, as of one who is new or comes back"
        )
        parser.add_argument("--gone", action="store_true", help="may no longer sign on")

    def handle(self, *args: Any, **options: Any) -> None:
        person = Person.objects.filter(username__iexact=options["username"]).order_by("-is_active", "pk").first()
        new = person is None
        if person is None:
            if not options["role"]:
                raise CommandError(f"{options['username']} is new here. Say with --role what they may do: {_roles()}.")
            person = Person(username=options["username"])
        could = person.is_active
        person.is_active = not options["gone"]
        person.first_name = options["first_name"] or person.first_name
        person.last_name = options["last_name"] or person.last_name
        # Who comes back has a new password, so that no session from before goes on.
        if new or options["password"] or (person.is_active and not could):
            person.set_password(self._password(person))
        try:
            person.full_clean(exclude=["password"])
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        with written_by(None, "person"):
            person.save()
            if options["role"]:
                person.groups.set(Group.objects.filter(name__in=options["role"]))
            for what in _done(options, new=new, could=could, may=person.is_active):
                note_by_command(person, what)
        held = ", ".join(sorted(person.groups.values_list("name", flat=True))) or "none"
        may = "may sign on" if person.is_active else "may no longer sign on"
        self.stdout.write(f"{person.shown_name} {may}. Roles: {held}.")

    def _password(self, person: Person) -> str:
        # From a script it is one line of standard input, so that it never stands in a list of processes.
        typed = getpass("Password: ") if sys.stdin.isatty() else sys.stdin.readline().rstrip("\n")
        try:
            validate_password(typed, person)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        return typed


def _done(options: dict[str, Any], *, new: bool, could: bool, may: bool) -> list[PersonChange.What]:
    """What this did about the person, for the list of such changes."""
    what = PersonChange.What
    if new:
        return [what.MADE] if may else [what.MADE, what.ENDED]
    found = [what.ENDED if could else what.BACK] if could != may else []
    found += [what.ROLES] if options["role"] else []
    found += [what.NAME] if options["first_name"] or options["last_name"] else []
    return found + ([what.PASSWORD] if options["password"] else [])


def _roles() -> str:
    return ", ".join(ROLES)
