"""Marking something as recalled, and ending that in two names."""

from __future__ import annotations

from typing import Final

from django.db.models import QuerySet
from django.utils import timezone

from batches.handover.noting import filled, refuse_reader
from batches.recalls.models import EndAsked, Ended, Recall
from batches.sheets.sheet import Problem
from batches.sheets.typed.read_sheet import Unfit
from batches.tracing.references import NoSuchReference, refer
from distillery import figures
from distillery.clock.reading import books_now
from distillery.database.retrying import retried
from distillery.people.models import Person
from distillery.seals.writing import signed, written_by
from distillery.signed import Shown, digest_of, refuse_moved

LONGEST_REASON: Final = 1_000
MOVED_ON: Final = "Something was written about this recall since your page was opened, so nothing was signed."


@retried
@signed("recall")
def recall(ref: str, *, person: Person, reason: str) -> Recall:
    """Marks what has this number as recalled, from this moment. Raises Unfit, Busy."""
    refuse_reader(person)
    why = filled("reason", reason, "Why", LONGEST_REASON)
    try:
        meant = refer(ref)
    except NoSuchReference as error:
        raise Unfit([Problem("", None, str(error))]) from error
    there = standing().filter(ref=meant.ref).first()
    if there is not None:
        raise Unfit([Problem("", None, f"{meant.ref} is recalled already, by {there.person.shown_name}.")])
    return Recall.objects.create(
        ref=meant.ref, what=meant.what, said_at=books_now(), written_at=timezone.now(), person=person, reason=why
    )


@retried
@signed("recall")
def ask_end(asked: Recall, *, person: Person, reason: str) -> EndAsked:
    """Says that a recall may end, and why; somebody else has to agree. Raises Unfit, Busy."""
    refuse_reader(person)
    why = filled("reason", reason, "Why", LONGEST_REASON)
    there = _newly_read(asked)
    if hasattr(there, "ended"):
        raise Unfit([Problem("", None, "This recall is ended already.")])
    if hasattr(there, "end_asked"):
        name = there.end_asked.person.shown_name
        raise Unfit([Problem("", None, f"{name} has asked for its end already; somebody else has to agree.")])
    return EndAsked.objects.create(recall=there, person=person, at=timezone.now(), reason=why)


@retried
def agree_end(asked: Recall, *, person: Person, seen: str | None) -> Ended:
    """Puts a second name under the end of a recall. Raises Unfit, signed.MovedOn, Busy."""
    refuse_reader(person)
    with written_by(person, "recall"):
        there = _newly_read(asked)
        refuse_moved(seen, shown_of(there), MOVED_ON)
        if hasattr(there, "ended"):
            raise Unfit([Problem("", None, "This recall is ended already.")])
        if not hasattr(there, "end_asked"):
            raise Unfit([Problem("", None, "Nobody has asked for its end yet.")])
        if there.end_asked.person == person:
            raise Unfit([Problem("", None, f"{person.shown_name} asked for its end; somebody else has to agree.")])
        return Ended.objects.create(recall=there, person=person, at=timezone.now(), digest=digest_of(shown_of(there)))


def shown_of(one: Recall) -> Shown:
    """What the page of a recall shows of it, label by label; what a second name is put under."""
    shown = {
        "Recalled": f"{one.what} {one.ref}",
        "By": f"{one.person.shown_name}, {figures.moment(one.said_at, year=True)}",
        "Why": one.reason,
    }
    if hasattr(one, "end_asked"):
        asked = one.end_asked
        shown["End asked by"] = f"{asked.person.shown_name}, {figures.moment(asked.at, year=True)}"
        shown["Why it may end"] = asked.reason
    return shown


def recalls() -> QuerySet[Recall]:
    """All recalls with who asked for their end and who agreed, the newest first."""
    return Recall.objects.select_related("person", "end_asked__person", "ended__person").order_by("-said_at", "-pk")


def standing() -> QuerySet[Recall]:
    """Recalls that are not ended."""
    return recalls().filter(ended__isnull=True)


def _newly_read(one: Recall) -> Recall:
    return recalls().get(pk=one.pk)
