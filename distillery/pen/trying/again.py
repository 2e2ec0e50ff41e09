"""The PIN again, for what signs; and a second person who signs in place, at a PC that is somebody else's at the moment.

At an enrolled PC several people pass by, so holding the pen signs ordinary readings and no more. Elsewhere the session
was opened with a password and belongs to one person, who is not asked again.
"""

from __future__ import annotations

from typing import Final

from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.views.decorators.debug import sensitive_variables

from distillery.pen.pcs import pc_of
from distillery.pen.trying.taking import proven
from distillery.pen.trying.tries import Refused
from distillery.people.models import Person

TYPE_AGAIN: Final = "This signs: type your PIN again."
# Names of boxes; none that says 'password' is ever given back.
AGAIN: Final = "again_password"
SECOND: Final = "second_name"
SECOND_SECRET: Final = "second_password"


class NotShown(Exception):
    """Somebody has not shown who they are; one sentence, and the box it belongs to."""

    def __init__(self, sentence: str, field: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field


def asks_again(request: HttpRequest) -> bool:
    """Whether what signs asks for the PIN again here."""
    return pc_of(request) is not None


@sensitive_variables()
def show_again(request: HttpRequest, person: Person) -> None:
    """Sees to it that who has the pen is who presses. Raises NotShown."""
    if not asks_again(request):
        return
    secret = request.POST.get(AGAIN, "")
    if not secret:
        raise NotShown(TYPE_AGAIN, AGAIN)
    _proven(request, person.username, secret, AGAIN)


@sensitive_variables()
def second_of(request: HttpRequest) -> Person | None:
    """The second person who signs in place, by PIN or password; None where nobody is named. Raises NotShown."""
    name, secret = request.POST.get(SECOND, "").strip(), request.POST.get(SECOND_SECRET, "")
    if not name and not secret:
        return None
    if not name or not secret:
        raise NotShown("Name the second person, and let them type their own PIN or password.", SECOND)
    return _proven(request, name, secret, SECOND_SECRET)


@sensitive_variables()
def _proven(request: HttpRequest, name: str, secret: str, field: str) -> Person:
    try:
        return proven(request, name, secret)
    except Refused as refused:
        raise NotShown(refused.sentence, field) from refused
    except ValidationError as many:
        raise NotShown(" ".join(many.messages), field) from many
