"""What waits for somebody else. Records for word from elsewhere: a report of receipt, a proof of export; until when it
has to come is said by dated rules, and public holidays are not known. Figures of the site for a second person.
"""

from __future__ import annotations

import json
from datetime import date, datetime
from typing import NamedTuple

from django.db.models import OuterRef, Subquery
from django.urls import reverse

from batches.models import Record, State, Version
from batches.sheets.register import all_sheets, sheet_of
from distillery import figures
from distillery.clock.reading import books_now, site_day
from distillery.pages import Link
from distillery.rules.names import duties
from distillery.rules.setting.two_hands import waiting


class Awaited(NamedTuple):
    """A record, what comes to it from elsewhere, the last day for that (None where no rule counts days), and whether
    that day is past."""

    record: Record
    moment: str
    last_day: date | None
    is_overdue: bool

    @property
    def said(self) -> str:
        """'overdue since Thu 11 Mar', 'until Thu 11 Mar'; blank where no rule counts days."""
        if self.last_day is None:
            return "no day is set"
        return f"{'overdue since' if self.is_overdue else 'until'} {figures.day(self.last_day)}"


def awaited(now: datetime) -> list[Awaited]:
    """What is awaited at a moment, overdue first and the longest due before all; one query and the rules of each."""
    due = {sheet.kind: one for sheet in all_sheets() for one in sheet.moments if one.due_by is not None}
    newest = Version.objects.filter(record=OuterRef("pk")).order_by("-serial").values("values")[:1]
    waiting = Record.objects.filter(state=State.OPEN, kind__in=due).annotate(standing=Subquery(newest))
    found = []
    for record in waiting.order_by("happened_from", "pk"):
        moment, typed = due[record.kind], json.loads(record.standing or "{}")
        if moment.due_by is None or typed.get(moment.when) or not moment.comes(typed):
            continue
        day = site_day(record.happened_from)
        said = typed.get(moment.due_by.occasion, "").casefold()
        choices = sheet_of(record.kind).field(moment.due_by.occasion).choices
        asked = duties(moment.due_by.operation, day, *(one for one in choices if one.casefold() == said))
        last = min((last for one in asked if (last := one.by_day(day)) is not None), default=None)
        found.append(Awaited(record, moment.label, last, last is not None and site_day(now) > last))
    return sorted(found, key=lambda one: (not one.is_overdue, one.last_day or date.max, one.record.pk))


def overdue_in_books() -> Link | None:
    """What should have come from the other end by now, as one line on the page of the books; None where nothing."""
    late = [one for one in awaited(books_now()) if one.is_overdue]
    if not late:
        return None
    first = late[0]
    said = "1 report from the other end" if len(late) == 1 else f"{len(late)} reports from the other end"
    return Link(said, reverse("removals"), f"the first of {first.record.number}, {first.said}")


def asked_in_books() -> Link | None:
    """How many figures of the site wait for a second person, as one line on the page of the books; None where none."""
    asked = waiting()
    if not asked:
        return None
    said = "1 figure asked for" if len(asked) == 1 else f"{len(asked)} figures asked for"
    first = asked[0]
    since = f"the first by {first.person.shown_name}, {figures.moment(first.asked_at)}"
    return Link(said, reverse("figures_waiting"), f"{since}; a second person agrees or refuses")
