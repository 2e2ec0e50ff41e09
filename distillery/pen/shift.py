"""Names to choose from where people change at one PC: those on shift, then all others."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from distillery.pen.roster import on_this_shift
from distillery.people.models import Person


@dataclass(frozen=True, slots=True)
class Tile:
    """One name to press, with the roles beside it."""

    username: str
    name: str
    roles: str


@dataclass(frozen=True, slots=True)
class Names:
    """The names of a page: on this shift, the latest first; and the others by name."""

    on_shift: list[Tile]
    others: list[Tile]

    def __bool__(self) -> bool:
        return bool(self.on_shift or self.others)


def names(now: datetime | None = None, *, last: str = "") -> Names:
    """Everybody who may sign on; `last` has the pen already, and comes after the others on this shift."""
    lately = on_this_shift(now)
    people = list(Person.objects.filter(is_active=True, groups__isnull=False).prefetch_related("groups").distinct())
    people.sort(key=lambda one: one.shown_name.casefold())
    here = sorted((one for one in people if one.username in lately), key=lambda one: lately[one.username], reverse=True)
    here.sort(key=lambda one: one.username == last)
    return Names([_tile(one) for one in here], [_tile(one) for one in people if one.username not in lately])


def names_on_shift() -> list[str]:
    """Names shown of who is on shift, the latest first; of nobody else anything is read."""
    lately = on_this_shift()
    people = Person.objects.filter(is_active=True, groups__isnull=False, username__in=lately).distinct()
    return [one.shown_name for one in sorted(people, key=lambda one: lately[one.username], reverse=True)]


def _tile(person: Person) -> Tile:
    return Tile(person.username, person.shown_name, ", ".join(sorted(one.name for one in person.groups.all())))
