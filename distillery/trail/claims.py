"""Whose entries these are: what the program wrote in one piece is claimed, in a person's name where one signed on."""

from __future__ import annotations

from django.db import DEFAULT_DB_ALIAS

from distillery.database.fixed_sql import add_one, ask_one
from distillery.people.models import Person
from distillery.trail.models import Claim


def last_entry(*, using: str = DEFAULT_DB_ALIAS) -> int:
    """The number of the newest entry; 0 where there is none."""
    row = ask_one("SELECT COALESCE(MAX(id), 0) FROM trail_entry", using=using)
    return 0 if row is None else int(row[0])


def claim(
    before: int, person: Person | None, way: str, *, last: int | None = None, using: str = DEFAULT_DB_ALIAS
) -> Claim | None:
    """Claims every entry after number `before`; nothing where there is none. The caller keeps others from writing.

    `last` is the number of the newest entry where the caller has asked for it already.
    """
    last = last_entry(using=using) if last is None else last
    if last <= before:
        return None
    made = Claim(first=before + 1, last=last, person=person, way=way)
    add_one(made, using=using)
    return made
