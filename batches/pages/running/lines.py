"""The lines of This shift: what is due now, and a line for each record that is on with the box of its next reading."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.http import HttpRequest
from django.urls import reverse
from django.utils.safestring import SafeString

from batches.pages.running import shown
from batches.pages.running.curves import curve_of
from batches.pages.writing import drafted
from batches.pages.writing.reading_form import ReadingForm
from batches.running.act_now import ActNow, act_now
from batches.running.before import Usual
from batches.running.due import ReadingDue, Waits, due_of
from batches.running.runs import Run
from batches.running.runs_on import RunsOn, runs_on
from distillery import pages
from distillery.charts import SMALL
from distillery.drafts.showing import Drafting


@dataclass(frozen=True, slots=True)
class DueLine:
    """One reading or cut in the line of what is due: 'SS1 strength 02:15'."""

    text: str
    href: str


@dataclass(frozen=True, slots=True)
class DueNow:
    """What is overdue, due and missing, each the oldest first."""

    overdue: list[DueLine]
    due: list[DueLine]
    missing: list[DueLine]

    @property
    def groups(self) -> list[tuple[str, list[DueLine]]]:
        """Those that have anything in them, each with its word."""
        named = (("Overdue", self.overdue), ("Due", self.due), ("Missing", self.missing))
        return [(word, found) for word, found in named if found]


@dataclass(frozen=True, slots=True)
class RunLine:
    """A record that is on as it stands on This shift."""

    run: Run
    href: str
    standing: shown.Standing
    last: str
    due: ReadingDue
    due_said: str
    missing: str
    near: str
    curve: SafeString
    form: ReadingForm | None
    events: list[pages.Link]
    drafting: Drafting | None = None


@dataclass(frozen=True, slots=True)
class Lines:
    """All that is on, what of it is due, and what asks for an act at once."""

    due: DueNow
    runs: list[RunLine]
    act_now: list[ActNow]


def lines(now: datetime, *, writes: bool) -> Lines:
    """Every record that is on; with the boxes of its next reading for who may write."""
    on = runs_on()
    running, dues = _at(on, now)
    first = _to_write_first(running, dues)
    return Lines(
        _due_now(running, on.usual, dues, now),
        [_line(run, on.usual[run.record.pk], dues[run.record.pk], now, writes, focus=run is first) for run in running],
        act_now(on, now),
    )


def with_drafts(found: Lines, request: HttpRequest) -> Lines:
    """The same lines with what was typed in their boxes at this PC and is not saved."""
    drafts = drafted.of_lines(request, {one.run.record: one.form for one in found.runs if one.form is not None})
    return replace(found, runs=[replace(one, drafting=drafts.get(one.run.record.pk)) for one in found.runs])


def due_and_act_now(now: datetime) -> tuple[DueNow, list[ActNow]]:
    """What is due and what asks for an act at once, alone."""
    on = runs_on()
    running, dues = _at(on, now)
    return _due_now(running, on.usual, dues, now), act_now(on, now)


def _at(on: RunsOn, now: datetime) -> tuple[list[Run], dict[int, ReadingDue]]:
    # What is read most often stands first: a still is in more haste than a washback.
    running = sorted(on.runs, key=lambda run: run.every)
    return running, due_of(running, on.usual, now)


def _to_write_first(running: Sequence[Run], dues: dict[int, ReadingDue]) -> Run | None:
    """The first run on the page whose reading is due: it has the focus."""
    return next((run for run in running if dues[run.record.pk].is_due), None)


def _line(run: Run, usual: Usual, due: ReadingDue, now: datetime, writes: bool, *, focus: bool) -> RunLine:
    record = run.record
    href = reverse("record_running", args=[record.kind, record.number])
    form = None
    if writes and run.quantity is not None and due.waits != Waits.STOPPED:
        form = ReadingForm(run.sheet, quantities=(run.quantity,), auto_id=f"id_{record.pk}_%s")
        if focus:
            form.fields[run.quantity.name].widget.attrs["autofocus"] = True
    ready = "ready" if run.running.by_hours else "finish"
    near = f"{ready} near {shown.clock_or_day(run.begun + usual.length, now)}" if usual.length else ""
    coming = [event for event in run.may_come() if not event.only_notes] if writes else []
    return RunLine(
        run,
        href,
        shown.state_of_run(run, now),
        shown.last_reading(run, now),
        due,
        shown.due_said(due, now),
        shown.missing_said(due, now),
        near,
        curve_of(run, usual, now, size=SMALL, name=f"curve-{record.pk}"),
        form,
        [pages.Link(event.label, f"{href}?event={event.name}") for event in coming[:1]],
    )


def _due_now(running: Sequence[Run], usual: Mapping[int, Usual], dues: dict[int, ReadingDue], now: datetime) -> DueNow:
    overdue: list[tuple[datetime, DueLine]] = []
    due_now: list[tuple[datetime, DueLine]] = []
    missing: list[tuple[datetime, DueLine]] = []
    for run in running:
        due, href = dues[run.record.pk], reverse("record_running", args=[run.record.kind, run.record.number])
        where = run.vessel or run.record.number
        what = f"{where} {run.quantity.short_label.lower() if run.quantity else 'reading'}"
        if due.is_due:
            line = DueLine(f"{shown.clock_or_day(due.at, now)} {what}", href)
            (overdue if due.waits == Waits.OVERDUE else due_now).append((due.at, line))
        if due.missing:
            missing.append((due.missing[0], DueLine(f"{shown.missing_said(due, now)} {what}", href)))
        for event in run.may_come():
            after = usual[run.record.pk].after(event)
            if after is not None and event.plan and run.begun + after <= now:
                plan = shown.plan_of(run, event, usual[run.record.pk], now)
                line = DueLine(f"{where} {event.label.lower()}, {plan}", f"{href}?event={event.name}")
                due_now.append((run.begun + after, line))

    def oldest_first(found: list[tuple[datetime, DueLine]]) -> list[DueLine]:
        return [line for _, line in sorted(found, key=lambda one: one[0])]

    return DueNow(oldest_first(overdue), oldest_first(due_now), oldest_first(missing))
