"""A dated figure by which the books are judged is set in two hands: one asks, a second agrees or refuses.

What is asked for holds nothing until a second person agreed, in place or later at another PC; until then the figure
before holds. Nobody agrees to what they asked for themselves, and nothing is ever agreed to by itself. While nothing
is posted yet a site is only being set up, and one person's figures hold at once. What is asked for is kept as it was
typed and read anew when it is agreed to, so that nothing is entered that could not be entered then.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from django.db import models, transaction
from django.utils import timezone

from distillery import signed
from distillery.people.models import Person
from distillery.people.roles import WRITERS, may_write
from distillery.rules import in_force
from distillery.rules.setting.entering import Unsettable
from distillery.rules.site_facts import FigureAnswered, FigureAsked
from distillery.seals.writing import signed as sealed

# Says whether anything is posted yet; the ledger, a floor above, puts its own in at the start.
in_use: Final[list[Callable[[], bool]]] = []
# What waits longer stands among what a month is closed in spite of.
LONG: Final = timedelta(days=7)
MOVED_ON: Final = "What holds now is another figure than when this page was opened: look at it again."

Put = Callable[[Person], models.Model]


@dataclass(frozen=True, slots=True)
class Asked:
    """What came of asking: the row that holds, or what waits for a second person."""

    row: models.Model | None
    waits: FigureAsked | None


def needed() -> bool:
    """Whether a figure needs a second person: it does as soon as anything is posted."""
    return any(ask() for ask in in_use)


@sealed("figures of the site")
def ask(
    kind: str, boxes: Mapping[str, str], *, put: Put, person: Person, second: Person | None = None, two: bool = True
) -> Asked:
    """Enters a figure where one person may (`two` is False, or nothing is posted yet) or a second agrees in place; else
    keeps what was typed until one does. `put` enters it in the name of a person.

    Raises Unsettable, also for what could not be entered if it were agreed to.
    """
    if not two or not needed():
        return Asked(put(person), None)
    asked = FigureAsked.objects.create(
        kind=kind,
        boxes=json.dumps(dict(boxes), ensure_ascii=False, sort_keys=True),
        person=person,
        asked_at=timezone.now(),
    )
    if second is not None:
        return Asked(agree(asked, put=put, second=second), None)
    _try(put, person)
    return Asked(None, asked)


@sealed("figures of the site")
def agree(asked: FigureAsked, *, put: Put, second: Person) -> models.Model:
    """Enters what was asked for in the name of who asked, agreed to by a second. Raises Unsettable."""
    asked = _held(asked)
    if second.pk == asked.person_id:
        raise Unsettable("second_name", "You asked for this figure yourself: somebody else has to agree to it.")
    if not may_write(second):
        raise Unsettable("second_name", f"{second.shown_name} may not write: a second person has to be one who may.")
    row = put(asked.person)
    FigureAnswered.objects.create(
        asked=asked, agreed=True, person=second, answered_at=timezone.now(), table=row._meta.db_table, row=row.pk
    )
    return row


@sealed("figures of the site")
def refuse(asked: FigureAsked, *, person: Person, reason: str) -> FigureAnswered:
    """Refuses what was asked for, or takes it back where it is one's own, with a reason; it stays on record. Raises
    Unsettable."""
    asked = _held(asked)
    if not may_write(person):
        raise Unsettable("reason", "You may read this, not refuse it: ask somebody who writes.")
    if not reason.strip():
        raise Unsettable("reason", "Say why, in a few words: whoever asked reads it.")
    return FigureAnswered.objects.create(
        asked=asked, agreed=False, person=person, answered_at=timezone.now(), reason=reason.strip()
    )


def waiting(kinds: Iterable[str] | None = None) -> list[FigureAsked]:
    """What waits for a second person, the oldest first; of some kinds where they are named."""
    there = FigureAsked.objects.filter(answered__isnull=True).select_related("person")
    return list(there if kinds is None else there.filter(kind__in=list(kinds)))


def waits_long(asked: FigureAsked, now: datetime) -> bool:
    """Whether it waits longer than a week, by real time."""
    return now - asked.asked_at > LONG


def boxes_of(asked: FigureAsked) -> dict[str, str]:
    """What was typed, box by box."""
    boxes: dict[str, str] = json.loads(asked.boxes)
    return boxes


def agreed_to(rows: Iterable[models.Model]) -> dict[int, str]:
    """Who agreed to each of these rows of one table, by its key; those that one person or a command entered are not
    among them."""
    found = list(rows)
    if not found:
        return {}
    there = FigureAnswered.objects.select_related("person").filter(
        table=found[0]._meta.db_table, row__in=[row.pk for row in found]
    )
    return {one.row: one.person.shown_name for one in there if one.row is not None}


def one_writer() -> str:
    """What a site is told where one person alone may write; blank where there are more."""
    writers = Person.objects.filter(is_active=True, groups__name__in=WRITERS).distinct()[:2]
    if len(writers) != 1:
        return ""
    return (
        f"{writers[0].shown_name} alone may write at this site. Put on a second person under People, who may be from "
        "outside it; until then nothing that waits for a second can hold."
    )


def refuse_moved(seen: str | None, now: signed.Shown) -> None:
    """Raises signed.MovedOn where the page that was signed showed something else."""
    signed.refuse_moved(seen, now, MOVED_ON)


def _held(asked: FigureAsked) -> FigureAsked:
    held = FigureAsked.objects.select_for_update().select_related("person").get(pk=asked.pk)
    answered = FigureAnswered.objects.select_related("person").filter(asked=held).first()
    if answered is not None:
        done = "agreed to" if answered.agreed else "refused"
        raise Unsettable("", f"{answered.person.shown_name} has {done} it already.")
    return held


def _try(put: Put, person: Person) -> None:
    """Refuses what cannot be entered, as entering it would, and leaves nothing behind."""
    point = transaction.savepoint()
    try:
        put(person)
    finally:
        transaction.savepoint_rollback(point)
        in_force.let_go()
