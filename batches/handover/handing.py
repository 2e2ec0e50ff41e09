"""The handover sheet: written and signed by who goes, signed by who comes under the version that was on the page.

Handovers are read out face to face, questions go both ways, and both are responsible (HSE, Human factors: safety
critical communications). So the one who comes can write down what was asked, and cannot be the one who went.
"""

from __future__ import annotations

import json
from datetime import datetime
from typing import Final

from django.db.models import QuerySet
from django.utils import timezone

from batches.handover.models import Handover, Taken
from batches.handover.noting import SENT_TWICE, filled, refuse_reader
from batches.handover.what_stands import Line, what_stands
from batches.sheets.sheet import Problem
from batches.sheets.typed.read_sheet import Unfit
from distillery import figures
from distillery.clock.reading import books_now
from distillery.database.retrying import retried
from distillery.people.models import Person
from distillery.seals.writing import signed, written_by
from distillery.signed import MovedOn, Shown, digest_of, refuse_moved

LONGEST_TEXT: Final = 4_000
MOVED_ON: Final = "Another handover has been written since your page was opened, so nothing was signed. Both are shown."


def shown_of(handover: Handover) -> Shown:
    """What the page and the paper of a handover show, label by label; what both put their names to."""
    shown = {
        "From": handover.person.shown_name,
        "At": figures.moment(handover.said_at, year=True),
        "Handed over": handover.text,
    }
    for place, (heading, text) in enumerate(lines_of(handover), 1):
        shown[f"{place} {heading}"] = text
    return shown


def lines_of(handover: Handover) -> list[Line]:
    """What stood by the program as it was written."""
    return [(str(heading), str(text)) for heading, text in json.loads(handover.stands)]


@retried
@signed("handover")
def hand_over(text: str, *, person: Person, now: datetime | None = None) -> Handover:
    """Writes and signs a handover at this moment, with what stands. Raises Unfit, Busy."""
    refuse_reader(person)
    said = filled("text", text, "What you hand over", LONGEST_TEXT)
    before = last_handover()
    if before is not None and (before.person, before.text) == (person, said) and _is_sent_twice(before):
        return before
    at = now or books_now()
    handover = Handover(
        said_at=at,
        written_at=timezone.now(),
        person=person,
        stands=json.dumps(what_stands(at), ensure_ascii=True),
        text=said,
    )
    handover.digest = digest_of(shown_of(handover))
    handover.save(force_insert=True)
    return handover


def _is_sent_twice(before: Handover) -> bool:
    return timezone.now() - before.written_at < SENT_TWICE and not Taken.objects.filter(handover=before).exists()


@retried
def take_over(handover: Handover, *, person: Person, seen: str | None, text: str = "") -> Taken:
    """Puts a second name under a handover. Raises Unfit, signed.MovedOn where a newer one was written, Busy."""
    refuse_reader(person)
    if person == handover.person:
        sentence = f"{person.shown_name} wrote this handover; who comes on shift signs it."
        raise Unfit([Problem("", None, sentence)])
    said = text.strip()
    if said:
        said = filled("text", said, "What was asked", LONGEST_TEXT)
    with written_by(person, "handover"):
        newest = last_handover()
        assert newest is not None
        if newest.pk != handover.pk:
            raise MovedOn(MOVED_ON, now=shown_of(newest))
        refuse_moved(seen, shown_of(newest), MOVED_ON)
        if Taken.objects.filter(handover=newest).exists():
            raise Unfit([Problem("", None, "This handover is signed by the next shift already.")])
        return Taken.objects.create(
            handover=newest, person=person, at=timezone.now(), digest=digest_of(shown_of(newest)), text=said
        )


def handovers() -> QuerySet[Handover]:
    """All handovers with who took them, the newest first."""
    return Handover.objects.select_related("person", "taken__person").order_by("-said_at", "-pk")


def last_handover() -> Handover | None:
    """The newest handover, signed or not."""
    return handovers().order_by("-pk").first()
