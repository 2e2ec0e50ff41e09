"""Names to choose from where people change at one PC: those who had the pen lately, then all others."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from django.db.models import Max
from django.utils import timezone

from distillery.pen.models import Try
from distillery.people.models import Person

A_SHIFT: Final = timedelta(hours=12)


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


def on_this_shift(now: datetime | None = None) -> dict[str, datetime]:
    """Sign-on names of who took the pen in the last twelve hours, with when last."""
    since = (now or timezone.now()) - A_SHIFT
    taken = Try.objects.filter(what=Try.What.RIGHT, at__gt=since).values("name").annotate(last=Max("at"))
    return {row["name"]: row["last"] for row in taken}


def names(now: datetime | None = None, *, last: str = "") -> Names:
    """Everybody who may sign on; `last` has the pen already, and comes after the others on this shift."""
    lately = on_this_shift(now)
    people = list(Person.objects.filter(is_active=True, groups__isnull=False).prefetch_related("groups").distinct())
    people.sort(key=lambda one: one.shown_name.casefold())
    here = sorted((one for one in people if one.username in lately), key=lambda one: lately[one.username], reverse=True)
    here.sort(key=lambda one: one.username == last)
    return Names([_tile(one) for one in here], [_tile(one) for one in people if one.username not in lately])


def _tile(person: Person) -> Tile:
    return Tile(person.username, person.shown_name, ", ".join(sorted(one.name for one in person.groups.all())))
