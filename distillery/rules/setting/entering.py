"""How a dated figure is entered: never for a closed day, always beside those before it, with who, when and why."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from typing import Any, Final, TypeVar

from django.db import models
from django.utils import timezone

from distillery import figures
from distillery.people.models import Person
from distillery.rules import in_force
from distillery.rules.site_facts import Entered
from distillery.years import is_of_a_site

Row = TypeVar("Row", bound=models.Model)

# Gives the last day that is closed, None where none is; the ledger, a floor above, puts its own in at the start.
last_closed_day: Final[list[Callable[[], date | None]]] = []


class Unsettable(ValueError):
    """A figure cannot be set as given; the sentence says why, `field` which one."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field
        self.sentence = sentence


def closed_to() -> date | None:
    """The last day whose period is closed; None where none is."""
    return last_closed_day[0]() if last_closed_day else None


def refuse_closed(from_day: date, field: str = "from_day") -> None:
    """Raises Unsettable for a day in a closed period, with what to do instead, and for a year no site has."""
    if not is_of_a_site(from_day.year):
        raise Unsettable(field, f"{from_day.year} is no year of a site: check it.")
    closed = closed_to()
    if closed is not None and from_day <= closed:
        first_open = figures.day(closed + timedelta(days=1), year=True)
        raise Unsettable(
            field,
            f"Everything to {figures.day(closed, year=True)} is closed, and was judged by what was in force then. "
            f"Set it from {first_open} on; what has to be put right before is corrected by its record.",
        )


def said(field: str, text: str) -> str:
    """A text that may not be left out, without what stands around it. Raises Unsettable."""
    if not text.strip():
        raise Unsettable(field, f"Fill in the {field}: a figure without it cannot be explained later.")
    return text.strip()


def enter(row: Row, *, person: Person | None, reason: str) -> Row:
    """Keeps a new dated row with who entered it and why. Raises Unsettable for a closed day.

    Called inside a piece of writing. A command enters without a person, and then nothing is said of why.
    """
    given: Any = row
    refuse_closed(given.from_day)
    return keep(row, person=person, reason=reason)


def keep(row: Row, *, person: Person | None, reason: str) -> Row:
    """As `enter`, of a row whose day the caller has looked at."""
    row.save(force_insert=True)
    note(row, person=person, reason=reason)
    in_force.let_go()
    return row


def entered(rows: Sequence[models.Model]) -> dict[int, Entered]:
    """Who entered each of these rows of one table, by its key; what came with the program is not among them."""
    if not rows:
        return {}
    there = Entered.objects.select_related("person").filter(
        table=rows[0]._meta.db_table, row__in=[row.pk for row in rows]
    )
    return {one.row: one for one in there}


def by_whom(one: Entered | None) -> str:
    """Who entered a dated figure, in words; `one` is None where it came with the program."""
    if one is None:
        return "came with the program"
    return one.person.shown_name if one.person is not None else "by a command"


def note(row: models.Model, *, person: Person | None, reason: str) -> None:
    """Writes down who entered a dated row, when and why."""
    Entered.objects.create(
        table=row._meta.db_table, row=row.pk, person=person, entered_at=timezone.now(), reason=reason.strip()
    )
