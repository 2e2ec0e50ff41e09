"""Keeping drafts: box by box as each is left, given back to the PC they were typed at, and let go when saved.

A draft is kept for 72 hours after its last box. It is bounded in size and number; what is beyond a bound is refused
with a sentence and never cut short. A form that has been saved takes no more drafts: a box that arrives late, after its
Save, is left out. `WRITTEN` is how this floor asks those above which forms have written; they put their answers in.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final, NamedTuple

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from distillery.database.in_line import in_line
from distillery.database.retrying import retried
from distillery.drafts.models import Draft
from distillery.people.models import Person

KEPT_FOR: Final = timedelta(hours=72)
LONGEST_TEXT: Final = 4_000
LONGEST_NAME: Final = 120
MOST_BOXES: Final = 4_500
MOST_CHARACTERS: Final = 250_000
MOST_OF_A_PC: Final = 40
MOST: Final = 2_000
LONGEST_TITLE: Final = 120
LONGEST_ADDRESS: Final = 400
LONGEST_TOKEN: Final = 64
_KEY: Final = re.compile(r"[a-z_]{1,30}(?:/[^/\s\x00-\x1f]{1,80}){1,5}")
LONGEST_KEY: Final = 200

# Each is given tokens of forms and gives those that have written.
WRITTEN: list[Callable[[Collection[str]], set[str]]] = []


class TooMuch(ValueError):
    """A draft beyond its bounds; `str()` is the sentence for the page."""


class Which(NamedTuple):
    """One draft: the PC it was typed at, and the key of its form."""

    pc: str
    key: str


@dataclass(frozen=True, slots=True)
class Form:
    """What a form says about itself: see `Draft`."""

    key: str
    token: str = ""
    serial: int | None = None
    title: str = ""
    address: str = ""


@dataclass(frozen=True, slots=True)
class KeptBox:
    """One box: its text, when it was kept, the name of who typed it, and the name that person signs on with."""

    text: str
    at: datetime
    by: str
    username: str = ""

    @property
    def said(self) -> str:
        """'Draft kept 02:12:40, Isla'."""
        return f"Draft kept {seconds(self.at)}, {self.by}"


@dataclass(frozen=True, slots=True)
class Kept:
    """A draft as it is given back."""

    form: Form
    boxes: Mapping[str, KeptBox]
    at: datetime
    by: str

    @property
    def values(self) -> dict[str, str]:
        """The text of each box by its name."""
        return {name: box.text for name, box in self.boxes.items()}

    @property
    def title(self) -> str:
        """What was being written: 'SR0023, finish'."""
        return self.form.title

    @property
    def address(self) -> str:
        """The page it stands on; that of a sheet without a record names the draft."""
        return self.form.address or "/"

    @property
    def clock(self) -> str:
        """'02:12', with the day before it where that is not today."""
        return seconds(self.at)[:-3]

    @property
    def said(self) -> str:
        """'Draft kept 02:12:40, Isla', of the box that was kept last."""
        return f"Draft kept {seconds(self.at)}, {self.by}"


def seconds(at: datetime) -> str:
    """'02:12:40' on the site's clock; with the day before it where that is not today."""
    local = timezone.localtime(at)
    day = "" if local.date() == timezone.localdate() else f"{local:%a} {local.day} {local:%b} "
    return f"{day}{local:%H:%M:%S}"


@retried
def keep(
    pc: str, form: Form, boxes: Mapping[str, str], *, person: Person, now: datetime | None = None
) -> datetime | None:
    """Keeps some boxes of a form on top of those kept before; None where the form has been saved meanwhile.

    Raises TooMuch, Busy.
    """
    now = now or timezone.now()
    _bounded(form, boxes)
    with in_line(), transaction.atomic():
        if form.token and _written([form.token]):
            return None
        Draft.objects.filter(kept_at__lt=now - KEPT_FOR).delete()
        draft = Draft.objects.select_for_update().filter(pc=pc, key=form.key).first()
        if draft is not None and draft.token and _written([draft.token]):
            # It came too late to go with its form; nothing of it belongs to what is typed now.
            draft.delete()
            draft = None
        if draft is None:
            _room_for_another(pc)
            # The version is that of the first box: what has been saved since is to be shown beside all of them.
            first = {"serial": form.serial, "person": person, "kept_at": now}
            draft, _ = Draft.objects.select_for_update().get_or_create(pc=pc, key=form.key, defaults=first)
        at = now.isoformat()
        held = json.loads(draft.boxes)
        held |= {name: [text, at, person.pk] for name, text in boxes.items()}
        draft.boxes = json.dumps(held, ensure_ascii=False, separators=(",", ":"))
        if len(held) > MOST_BOXES or len(draft.boxes) > MOST_CHARACTERS:
            raise TooMuch("This form holds more than a draft can; save it, or write it on more than one.")
        draft.token = form.token or draft.token
        draft.title = form.title or draft.title
        draft.address = form.address or draft.address
        draft.person, draft.kept_at = person, now
        draft.save()
    return now


def kept(which: Which, *, now: datetime | None = None) -> Kept | None:
    """The draft of one form at one PC; None where there is none, or its form has been saved."""
    return next(iter(_given_back(_standing(which.pc, now).filter(key=which.key))), None)


def newest(pc: str, start: str, *, now: datetime | None = None) -> Kept | None:
    """The draft of this PC that was kept last among those whose key starts so."""
    return next(iter(_given_back(_standing(pc, now).filter(key__startswith=start))), None)


def drafts_of(pc: str, *, now: datetime | None = None) -> list[Kept]:
    """All drafts of a PC, the newest first."""
    return _given_back(_standing(pc, now))


@retried
def hand_on(pc: str, to: str) -> None:
    """Gives the drafts of a PC to the number by which it is known from now on; what stands there stays. Raises Busy."""
    with transaction.atomic():
        there = Draft.objects.filter(pc=to).values_list("key", flat=True)
        Draft.objects.filter(pc=pc).exclude(key__in=list(there)).update(pc=to)


def let_go(which: Which, token: str = "") -> None:
    """Removes a draft: its form is saved, in the transaction of whoever calls, or it is thrown away.

    `token` is that of the form which was saved. What another page of the same form has kept since is not saved, and
    stays.
    """
    drafts = Draft.objects.filter(pc=which.pc, key=which.key)
    (drafts.filter(token__in=("", token)) if token else drafts).delete()


def _standing(pc: str, now: datetime | None) -> QuerySet[Draft]:
    return Draft.objects.filter(pc=pc, kept_at__gte=(now or timezone.now()) - KEPT_FOR).order_by("-kept_at", "-pk")


def _given_back(drafts: Iterable[Draft]) -> list[Kept]:
    found = list(drafts)
    if not found:
        return []
    saved = _written([draft.token for draft in found if draft.token])
    held = {draft.pk: json.loads(draft.boxes) for draft in found}
    writers = {draft.person_id for draft in found} | {by for boxes in held.values() for _, _, by in boxes.values()}
    people = {person.pk: person for person in Person.objects.filter(pk__in=writers)}
    names = {pk: person.shown_name for pk, person in people.items()}
    return [
        Kept(
            Form(draft.key, draft.token, draft.serial, draft.title, draft.address),
            {
                name: KeptBox(
                    text,
                    datetime.fromisoformat(at),
                    names.get(by, "somebody"),
                    people[by].username if by in people else "",
                )
                for name, (text, at, by) in held[draft.pk].items()
            },
            draft.kept_at,
            names.get(draft.person_id, "somebody"),
        )
        for draft in found
        if draft.token not in saved
    ]


def _written(tokens: Collection[str]) -> set[str]:
    return {token for ask in WRITTEN for token in ask(tokens)} if tokens else set()


def _bounded(form: Form, boxes: Mapping[str, str]) -> None:
    if len(form.key) > LONGEST_KEY or not _KEY.fullmatch(form.key) or len(form.token) > LONGEST_TOKEN:
        raise TooMuch("This form does not say which it is, so no draft of it is kept.")
    if len(form.title) > LONGEST_TITLE or len(form.address) > LONGEST_ADDRESS:
        raise TooMuch("The name or the address of this form is too long for a draft.")
    if len(boxes) > MOST_BOXES:
        raise TooMuch("This form holds more than a draft can; save it, or write it on more than one.")
    for name, text in boxes.items():
        if not name or len(name) > LONGEST_NAME or "password" in name:
            raise TooMuch("A box of this form cannot be kept as a draft.")
        if len(text) > LONGEST_TEXT:
            raise TooMuch(f"A text of {len(text)} characters is too long for a draft; at most {LONGEST_TEXT} are kept.")


def _room_for_another(pc: str) -> None:
    if Draft.objects.filter(pc=pc).count() >= MOST_OF_A_PC:
        raise TooMuch(f"This PC keeps {MOST_OF_A_PC} drafts already; save or throw away some of them.")
    if Draft.objects.count() >= MOST:
        raise TooMuch("The site keeps as many drafts as it can; save or throw away some of them.")
