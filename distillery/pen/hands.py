"""Whose hands typed what is saved: each form carries, signed, who had the pen as it was filled in.

Where that is not whoever saves, the entry says so. A page left open for longer than drafts are kept is not believed.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from typing import Final

from django.core import signing
from django.http import HttpRequest

from distillery.pen.pcs import pc_of
from distillery.people.models import Person

BOX: Final = "pen"
READER: Final = "read_by"
SALT: Final = "gaugebook.hand"
LONGEST: Final = timedelta(hours=72)


def token_of(person: Person) -> str:
    """What a form carries for a person who has the pen."""
    return signing.dumps(person.username, salt=SALT)


def read_token(token: str) -> str:
    """The sign-on name in a token; blank where it is not one of ours, or too old."""
    try:
        name = signing.loads(token, salt=SALT, max_age=LONGEST)
    except signing.BadSignature:
        return ""
    return name if isinstance(name, str) else ""


def hands_on(request: HttpRequest) -> dict[str, str]:
    """Who had the pen while the form of a request was filled in, in order: sign-on names, each with its token."""
    found = {name: token for token in request.POST.getlist(BOX) if (name := read_token(token))}
    return found if request.method == "POST" else {}


def typed_by(request: HttpRequest, saver: Person, besides: Iterable[str] = ()) -> str:
    """Sign-on names of who typed what `saver` saves, by commas; blank where that is nobody else. `besides` typed in its
    draft before."""
    hands = [*dict.fromkeys((*besides, *hands_on(request)))]
    return "" if not hands or hands == [saver.username] else ", ".join(hands)


class NobodyCalled(Exception):
    """Who is said to have taken a reading is nobody here, or more than one; one sentence."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def read_by(request: HttpRequest, saver: Person) -> str:
    """The sign-on name of who took the reading, where a form names somebody else than `saver`. Raises NobodyCalled."""
    named = " ".join(request.POST.get(READER, "").split()) if request.method == "POST" else ""
    if not named:
        return ""
    found = [one for one in Person.objects.filter(is_active=True) if named.casefold() in _called(one)]
    if len(found) != 1:
        who = "More than one is" if found else "Nobody here is"
        raise NobodyCalled(f"{who} called {named[:60]}; write the name that the reader signs on with.")
    return "" if found[0] == saver else found[0].username


def _called(person: Person) -> set[str]:
    return {name.casefold() for name in (person.username, person.first_name, person.shown_name) if name}


def pc_name(request: HttpRequest) -> str:
    """The name of the enrolled PC that something is saved at; blank at any other."""
    pc = pc_of(request)
    return pc.name if pc else ""


def short_names(usernames: Iterable[str]) -> list[str]:
    """First names, where there are any, for a button: 'Isla'."""
    wanted = list(usernames)
    people = {one.username: one for one in Person.objects.filter(username__in=wanted)}
    return [short_name(people[name]) if name in people else name for name in wanted]


def short_name(person: Person) -> str:
    """The first name, or what is shown where there is none."""
    return person.first_name or person.shown_name
