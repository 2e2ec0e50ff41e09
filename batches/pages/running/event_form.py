"""The small sheet of one event: the time of the press, which may be written over, and its one or two figures."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from batches.pages.writing.boxes import Offers
from batches.pages.writing.forms import SentOnce, SheetForm, with_its_day
from batches.pages.writing.reading_form import AT
from batches.records.recording import Busy
from batches.running.runs import Run
from batches.sheets.declared import Event
from batches.sheets.sheet import Field, Problem
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Unfit
from distillery import figures
from distillery.clock.reading import books_now
from ledger.posting.drafts import Refused

EVENT = "event"


def event_fields(run: Run, event: Event) -> tuple[Field, ...]:
    """The fields of an event, its time first."""
    return (AT,) if event.again else tuple(run.sheet.field(name) for name in (event.when, *event.figures))


class EventForm(SheetForm, SentOnce):
    """When it happened and what stands beside it, in the fields that the sheet has for it."""

    def __init__(self, run: Run, event: Event, *, data: Any = None) -> None:
        fields = event_fields(run, event)
        super().__init__(
            fields,
            Offers(Site()),
            data=data,
            initial={fields[0].name: figures.clock(books_now())},
            auto_id="id_event_%s",
        )
        self.event = event
        self.time = fields[0]
        self.shorten()
        first = fields[1] if len(fields) > 1 else fields[0]
        self.fields[first.name].widget.attrs["autofocus"] = True
        self.carry_token()

    @property
    def written(self) -> dict[str, str]:
        """What is to stand on the sheet. Raises Unfit without a time."""
        typed = self.typed()
        if not typed.get(self.time.name):
            raise Unfit([Problem(self.time.name, None, "Time is blank; say when it happened.")])
        return typed

    @property
    def at(self) -> str:
        """The time with its day."""
        return with_its_day(self.time, self.written[self.time.name])

    def mark(self, error: Unfit | Refused | Busy, problems: Sequence[Problem]) -> None:
        """Puts what is wrong beside its box, or at the top."""
        for problem in problems:
            name = problem.field if problem.field in self.fields else None
            if name is None and self.event.again and problem.field == "value":
                name = AT.name
            if name is None:
                self.add_error(None, problem.sentence)
            else:
                self.refuse(problem, name)
