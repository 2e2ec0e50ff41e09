"""The press that prints a counted copy of a document."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponseBadRequest, HttpResponseBase
from django.views.decorators.http import require_POST

from distillery.lists.exports import PAPER
from distillery.people.models import Person
from distillery.printing.noting import noted
from distillery.prints.asking import answer_to, asked_by
from distillery.prints.counting import counted
from distillery.prints.register import PDF

NO_DOCUMENT = "This address prints no document. Go back to the page of the document and press Print a copy there."


@require_POST
def print_copy(request: HttpRequest) -> HttpResponseBase:
    """The document of the address that was sent, as a counted copy; for whoever may look at it."""
    assert isinstance(request.user, Person)
    asked = asked_by(request.POST.get("address", ""), request.user)
    if not _prints(asked):
        return HttpResponseBadRequest(NO_DOCUMENT, "text/plain")
    with noted(numbers=counted(asked.get_full_path(), request.user)):
        answer = answer_to(asked)
    if answer.status_code != 200 or answer.headers.get("Content-Type") != PDF:
        return HttpResponseBadRequest(NO_DOCUMENT, "text/plain")
    return answer


def _prints(asked: HttpRequest) -> bool:
    """Whether an address is that of a document, or of a list on paper."""
    return asked.path.endswith(".pdf") or any(
        name.endswith("as") and value == PAPER for name, value in asked.GET.items()
    )
