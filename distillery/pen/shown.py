"""What every page says of the pen: who has it, for how long, and whose hands a form is in."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

from django.http import HttpRequest

from distillery.pen.hands import READER, NobodyCalled, hands_on, read_by, short_name, short_names, token_of
from distillery.pen.lasting import Lasting, lasting
from distillery.pen.pcs import pc_of
from distillery.pen.trying.again import asks_again
from distillery.people.models import Person

LONGEST_ADDRESS: Final = 1000


@dataclass(frozen=True, slots=True)
class Hand:
    """One person whose hands a form is or was in."""

    username: str
    short: str
    token: str


class ShownPen:
    """Looked up only where a page asks for it."""

    def __init__(self, request: HttpRequest) -> None:
        self._request = request

    @property
    def _person(self) -> Person | None:
        user = getattr(self._request, "user", None)
        return user if isinstance(user, Person) else None

    @cached_property
    def lasting(self) -> Lasting | None:
        """How the session stands; None where nobody is signed on."""
        return lasting(self._request) if self._person else None

    @property
    def locked(self) -> bool:
        """Whether the pen has to be taken anew."""
        return self.lasting is not None and self.lasting.locked

    @property
    def pc(self) -> str:
        """The name of this PC where it is enrolled."""
        pc = pc_of(self._request)
        return pc.name if pc else ""

    @property
    def asks_again(self) -> bool:
        """Whether what signs asks for the PIN again here."""
        return asks_again(self._request)

    @property
    def short(self) -> str:
        """The first name of who has the pen."""
        return short_name(self._person) if self._person else ""

    @property
    def here(self) -> str:
        """The address of this page, to come back to; without what was asked of it where that is very long."""
        whole = self._request.get_full_path()
        return whole if len(whole) <= LONGEST_ADDRESS else self._request.path

    @property
    def token(self) -> str:
        """What a form carries for who has the pen now."""
        return token_of(self._person) if self._person else ""

    @property
    def came_back(self) -> bool:
        """Whether a form comes back with what was typed in it."""
        return bool(hands_on(self._request))

    @cached_property
    def hands(self) -> list[Hand]:
        """Who had the pen while a form was filled in so far; who has it now, where it is a new one."""
        if self._person is None:
            return []
        found = hands_on(self._request) or {self._person.username: self.token}
        return [Hand(name, short, found[name]) for name, short in zip(found, short_names(found), strict=True)]

    @property
    def reader(self) -> str:
        """Who is said to have taken the reading, as it was typed."""
        return self._request.POST.get(READER, "") if self._request.method == "POST" else ""

    @cached_property
    def reader_error(self) -> str:
        """What is wrong with that."""
        try:
            return "" if self._person is None else read_by(self._request, self._person)[:0]
        except NobodyCalled as nobody:
            return nobody.sentence

    @cached_property
    def people(self) -> list[str]:
        """Names shown of everybody who may write down what somebody else read, to be offered."""
        return sorted(one.shown_name for one in Person.objects.filter(is_active=True) if one != self._person)

    @cached_property
    def others_typed(self) -> str:
        """'Isla typed, Callum saves', where a form that comes back was filled in by others too; else nothing."""
        person = self._person
        hands = hands_on(self._request)
        if person is None or not hands or list(hands) == [person.username]:
            return ""
        return f"{' and '.join(one.short for one in self.hands)} typed, {self.short} saves"
