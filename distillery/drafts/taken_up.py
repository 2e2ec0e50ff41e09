"""What came with a form that could not be taken: made a draft of once somebody has signed on, and looked up for the
page that says what became of it.

This is how a page without script has drafts too: its form says which one is its own.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping
from typing import Final

from django.db import Error as DatabaseFault
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme

from distillery.database.retrying import Busy
from distillery.drafts import keeping
from distillery.drafts.keeping import Form, Kept, TooMuch, Which
from distillery.drafts.pc import new_pc, remember_pc, this_pc
from distillery.pen.pcs import number_of
from distillery.people.models import Person
from distillery.people.roles import WRITERS, holds

log = logging.getLogger(__name__)

KEY: Final = "draft"
TITLE: Final = "draft-title"
ADDRESS: Final = "draft-at"
TOKEN: Final = "sending"
# What a form carries that is no box of its sheet: answers to questions, choices between two, the press itself.
NO_BOX: Final = frozenset(
    {
        KEY,
        TITLE,
        ADDRESS,
        TOKEN,
        "version",
        "opened",
        "pressed",
        "answered",
        "instead",
        "end_first",
        "take",
        "more",
        "pen",
    }
)
YOURS: Final = "yours:"


def typed_in(request: HttpRequest) -> tuple[str, ...]:
    """Sign-on names of who typed boxes of the draft of a form as they are sent now; none without a draft."""
    pc, key = this_pc(request), request.POST.get(KEY, "")
    found = keeping.kept(Which(pc, key)) if pc and key else None
    if found is None:
        return ()
    sent = request.POST
    typed = {box.username for name, box in found.boxes.items() if box.text and sent.get(name) == box.text}
    return tuple(sorted(typed - {""}))


def on_server(request: HttpRequest, posted: Mapping[str, str]) -> Kept | None:
    """The draft of a form that was sent; None where there is none or it cannot be read now."""
    pc, key = this_pc(request), posted.get(KEY, "")
    if not pc or not key:
        return None
    try:
        return keeping.kept(Which(pc, key))
    except DatabaseFault:
        log.exception("The draft of a form that was not taken could not be looked up")
        return None


def take_up(request: HttpRequest, typed: Iterable[tuple[str, str]]) -> HttpResponse | None:
    """Keeps what came with a form as a draft of whoever is signed on, and leads to the page that shows it.

    None where the form has no draft, or it cannot be kept; then nothing was changed.
    """
    boxes = dict(typed)
    address, person = boxes.get(ADDRESS, ""), request.user
    if not address.startswith("/") or not url_has_allowed_host_and_scheme(address, allowed_hosts=None):
        return None
    if not isinstance(person, Person) or not holds(person, WRITERS):
        return None
    serial = boxes.get("opened", "") or boxes.get("version", "")
    form = Form(
        key=boxes.get(KEY, ""),
        token=boxes.get(TOKEN, ""),
        serial=int(serial) if serial.isascii() and serial.isdigit() and len(serial) < 10 else None,
        title=boxes.get(TITLE, ""),
        address=address,
    )
    pc = this_pc(request) or new_pc()
    there = keeping.kept(Which(pc, form.key))
    # What is kept already stays whose it is.
    new = {
        name: text
        for name, text in boxes.items()
        if name not in NO_BOX
        and not name.startswith(YOURS)
        and (there is None or name not in there.boxes or there.boxes[name].text != text)
    }
    try:
        if new and keeping.keep(pc, form, new, person=person) is None:
            return None
    except (TooMuch, Busy):
        return None
    answer = redirect(address)
    if not number_of(request):
        remember_pc(answer, pc)
    return answer
