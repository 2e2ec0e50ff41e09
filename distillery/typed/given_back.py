"""What somebody typed, given back where a form could not be taken: shown, and ready to be sent again.

Passwords are left out. The page itself carries what was typed. Where the form has a draft on the server as well, the
page says so, and signing on leads back to the form with it. A page offers to send it again only where the form came
from a page of this site, so that no other site can put words into anybody's mouth.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from django.core.exceptions import SuspiciousOperation
from django.http import HttpRequest, HttpResponse, UnreadablePostError
from django.shortcuts import render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.debug import sensitive_variables

from distillery.drafts.keeping import Kept
from distillery.drafts.taken_up import ADDRESS, KEY, TITLE, on_server, take_up
from distillery.pen.hands import BOX, read_token, short_names

# What a form carries beside what a person types in it.
CARRIED: Final = frozenset(
    {"sending", "lines", "version", "opened", "next", "username", "pressed", BOX, KEY, TITLE, ADDRESS}
)
# A PIN that was being chosen is a secret as any password is.
NEVER_BACK: Final = frozenset({"csrfmiddlewaretoken", "pin", "again"})
KEPT: Final = "typed:"
WHERE: Final = "typed-on"
NUL: Final = "\0"


@dataclass(frozen=True, slots=True)
class Box:
    """One box of the form that was sent: its name as sent, what a person calls it, and what stood in it."""

    name: str
    label: str
    value: str


@dataclass(frozen=True, slots=True)
class TypedAgain:
    """What was typed, to be shown (`shown`) and to be sent again to `action` (`boxes`).

    `kept` is the draft that the server has of it, as far as it was left box by box.
    """

    boxes: tuple[Box, ...]
    action: str
    may_send: bool
    kept: Kept | None = None

    @property
    def shown(self) -> list[Box]:
        """The boxes that a person filled in."""
        return [
            box
            for box in self.boxes
            if box.value.strip() and box.name not in CARRIED and not box.name.startswith("yours:")
        ]

    @property
    def typed_by(self) -> str:
        """The sign-on names of who had the pen as it was typed, by commas; blank where the form does not say."""
        return ", ".join(self._typed_by)

    @property
    def typed_shown(self) -> str:
        """The same by first names: 'Isla and Jory'."""
        return " and ".join(short_names(self._typed_by))

    @property
    def _typed_by(self) -> list[str]:
        return list(dict.fromkeys(filter(None, (read_token(box.value) for box in self.boxes if box.name == BOX))))


def typed_on(request: HttpRequest) -> TypedAgain | None:
    """What a refused request had typed in its form, without NUL characters; None where there is nothing."""
    if request.method != "POST":
        return None
    try:
        posted = request.POST
    except (SuspiciousOperation, UnreadablePostError, ValueError):
        return None
    boxes = tuple(_box(name, value) for name, values in posted.lists() for value in values if _may_come_back(name))
    if not boxes:
        return None
    kept = on_server(request, posted.dict())
    typed = TypedAgain(boxes, request.get_full_path(), _from_this_site(request), kept)
    return typed if typed.shown else None


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form whose page was opened before somebody signed on or off here: shown with all that was typed."""
    return render(request, "403_csrf.html", {"typed": typed_on(request)}, status=403)


def signed_off(request: HttpRequest) -> HttpResponse:
    """A form sent after its writer's time at the PC had ended: a page to sign on at, which keeps what was typed."""
    from distillery.pen.forms import SignOnForm

    typed = typed_on(request)
    where = request.path if request.path else "/"
    return render(
        request,
        "signed_off.html",
        {"typed": typed, "kept": kept_of(typed), "where": where, "form": SignOnForm(request)},
        status=403,
    )


def kept_of(typed: TypedAgain | None) -> list[Box]:
    """The boxes under the names by which the page for signing on carries them."""
    return [Box(f"{KEPT}{box.name}", box.label, box.value) for box in typed.boxes] if typed else []


class KeepsTyped:
    """For the view that signs people on: what had been typed before comes back after."""

    request: HttpRequest

    @sensitive_variables()
    def form_valid(self, form: Any) -> HttpResponse:
        """Signs on; where something waits to be sent, shows it in its form again, or with a button that sends it."""
        answer: HttpResponse = super().form_valid(form)  # type: ignore[misc]
        typed = self._waiting()
        if typed is None:
            return answer
        back = take_up(self.request, ((box.name, box.value) for box in typed.boxes))
        return back or render(self.request, "typed_again.html", {"typed": typed})

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """A wrong password does not lose what waits either."""
        typed = self._waiting()
        context: dict[str, Any] = super().get_context_data(**kwargs)  # type: ignore[misc]
        return {**context, "typed": typed, "kept": kept_of(typed), "where": typed.action if typed else ""}

    def _waiting(self) -> TypedAgain | None:
        action = self.request.POST.get(WHERE, "")
        if not action.startswith("/") or not url_has_allowed_host_and_scheme(action, allowed_hosts=None):
            return None
        boxes = tuple(
            _box(name.removeprefix(KEPT), value)
            for name, values in self.request.POST.lists()
            for value in values
            if name.startswith(KEPT) and _may_come_back(name.removeprefix(KEPT))
        )
        return TypedAgain(boxes, action, may_send=True) if boxes else None


def _box(name: str, value: str | bytes) -> Box:
    text, name = str(value).replace(NUL, ""), name.replace(NUL, "")
    return Box(name, _label(name), text)


def _label(name: str) -> str:
    """'spirit after dip mm', 'line 2 gross kg': the words of a box's name."""
    parts = name.split("-")
    if len(parts) > 2 and parts[1].isascii() and parts[1].isdigit():
        parts[1] = str(int(parts[1][:6]) + 1)
    return " ".join(parts).replace("_", " ")


def _may_come_back(name: str) -> bool:
    return name not in NEVER_BACK and "password" not in name


def _from_this_site(request: HttpRequest) -> bool:
    """Browsers say with every form which site it came from (Fetch standard, section 3.2); no word of it is no yes."""
    try:
        host = request.get_host()
    except SuspiciousOperation:
        return False
    return str(request.META.get("HTTP_ORIGIN", "")) == f"{request.scheme}://{host}"
