"""Whose entries these are: what the program wrote in one piece is claimed, in a person's name where one signed on."""

from __future__ import annotations

from django.db import DEFAULT_DB_ALIAS, connections

from distillery.people.models import Person
from distillery.trail.models import Claim, Entry


def last_entry(*, using: str = DEFAULT_DB_ALIAS) -> int:
    """The number of the newest entry; 0 where there is none."""
    with connections[using].cursor() as cursor:
        cursor.execute(f"SELECT COALESCE(MAX(id), 0) FROM {Entry._meta.db_table}")
        return int(cursor.fetchone()[0])


def claim(before: int, person: Person | None, way: str, *, using: str = DEFAULT_DB_ALIAS) -> Claim | None:
    """Claims every entry after number `before`; nothing where there is none. The caller keeps others from writing."""
    last = last_entry(using=using)
    if last <= before:
        return None
    return Claim.objects.using(using).create(first=before + 1, last=last, person=person, way=way)
