"""A form of a page with its draft: what the page says about it, and the boxes filled with what was kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import HttpRequest

from distillery.drafts import keeping
from distillery.drafts.keeping import Kept, Which
from distillery.drafts.pc import this_pc

# Boxes that no person types in, but that a form needs to be shown again.
NOT_TYPED = frozenset({"lines"})
# The box of a form's one-time token.
TOKEN = "sending"


@dataclass(frozen=True, slots=True)
class Drafting:
    """What the page is told of a form's draft. `whole` asks the script to keep every box at once, as on a page that
    came back with what was sent. `again`: another form of the kind may follow at once, so its boxes empty themselves.
    """

    key: str
    title: str
    address: str
    kept: Kept | None
    pc: str | None
    whole: bool = False
    again: bool = False
    blank: str = ""

    @property
    def which(self) -> Which | None:
        """The draft that goes when the form is saved; None at a PC that has none."""
        return Which(self.pc, self.key) if self.pc else None

    @property
    def count(self) -> int:
        """How many boxes a person has typed in."""
        return sum(name not in NOT_TYPED for name in self.kept.boxes) if self.kept else 0


def drafting(
    request: HttpRequest, key: str, title: str, address: str, *, again: bool = False, look: bool = True
) -> Drafting:
    """The draft of the form of an address at this PC. Looked for only where the form is shown anew: what was sent
    stands for itself."""
    pc = this_pc(request)
    sent = request.method == "POST"
    found = keeping.kept(Which(pc, key)) if pc and look and not sent else None
    return Drafting(key, title, address, found, pc, whole=sent, again=again)


def of_page(request: HttpRequest, form: forms.Form, title: str, path: str = "") -> Drafting:
    """The draft of the one form of a page, which is sent to `path` (its own if none is named), put into its boxes."""
    whole = request.get_full_path()
    shown_at = whole if len(whole) <= keeping.LONGEST_ADDRESS else request.path
    draft = drafting(request, key_of_page(path or request.path), title[: keeping.LONGEST_TITLE], shown_at)
    fill(form, draft.kept)
    if draft.kept is not None and TOKEN in form.fields and draft.kept.form.token:
        # What was sent from it is known again.
        form.initial[TOKEN] = draft.kept.form.token
    return draft


def saved(request: HttpRequest) -> None:
    """Lets the draft go of a form that was sent to this page and is saved now."""
    which = which_of_page(request)
    if which is not None:
        keeping.let_go(which)


def which_of_page(request: HttpRequest) -> Which | None:
    """The draft of the one form of this page; None at a PC without a number."""
    pc = this_pc(request)
    return Which(pc, key_of_page(request.path)) if pc else None


def key_of_page(path: str) -> str:
    """The key of the one form that is sent to an address."""
    return f"form/{path.strip('/')}"


def fill(form: forms.Form, kept: Kept | None) -> None:
    """Puts the kept boxes into a form that is shown anew, each with whose it is and when."""
    if kept is None or form.is_bound:
        return
    before = dict(form.initial)
    form.initial = {**before, **_of(form, kept.values)}
    mark(form, kept)
    for name, field in form.fields.items():
        if "data-drafted" in field.widget.attrs:
            # What a further line of the kind begins with.
            field.widget.attrs["data-drafted"] = str(before.get(name, ""))


def mark(form: forms.Form, kept: Kept) -> None:
    """Says at each kept box whose it is and when."""
    for name, field in form.fields.items():
        box = kept.boxes.get(form.add_prefix(name))
        if box is not None and not field.widget.is_hidden:
            # Read by templates/parts/field.html.
            field.draft = box.said  # type: ignore[attr-defined]
            field.widget.attrs["data-drafted"] = ""


def _of(form: forms.Form, values: Mapping[str, str]) -> dict[str, Any]:
    return {name: values[form.add_prefix(name)] for name in form.fields if form.add_prefix(name) in values}
