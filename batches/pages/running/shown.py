"""A run in words and figures, for its page and its line on This shift."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from batches.pages.records.shown import letters, record_address, unit_of
from batches.records.readings import unlikely_among
from batches.running.before import Usual
from batches.running.due import ReadingDue, Waits
from batches.running.figures import STRENGTH
from batches.running.filling import Filling
from batches.running.runs import Happened, Run
from batches.sheets.declared import Event, Field
from distillery import figures, pages
from distillery.clock.reading import site_day
from distillery.people.models import Person

AT_THE_FINISH = "at the finish"


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of a run: done with its time, the present one, or still to come with its plan."""

    label: str
    time: str
    note: str
    here: bool
    done: bool
    href: str = ""


@dataclass(frozen=True, slots=True)
class Standing:
    """What a run is in, as it is read from afar, and since when; `brief` is the same for a line of This shift."""

    state: str
    since: str
    brief: str


@dataclass(frozen=True, slots=True)
class ReadingCell:
    """The figures that stand, each with the address at which it is struck, one that was struck, and the letter of the
    note that says why; the state of a figure that was odd and kept."""

    stands: list[pages.Link]
    struck: str
    mark: str
    state: pages.State | None = None


@dataclass(frozen=True, slots=True)
class ReadingLine:
    """What was read at one time, or what happened then; by whom."""

    time: str
    cells: list[ReadingCell]
    said: str
    by: str


@dataclass(frozen=True, slots=True)
class ReadingsShown:
    """Readings, the newest first, and why those that are struck were."""

    columns: list[pages.Column]
    lines: list[ReadingLine]
    older: list[ReadingLine]
    notes: list[str]


@dataclass(frozen=True, slots=True)
class Part:
    """One figure of the balance as it fills: measured, by estimate, or not there yet."""

    label: str
    text: str
    estimate: bool = False


def figure_fields(run: Run) -> list[Field]:
    """What is read along the way, that above all first; what an event writes is left to its button."""
    by_event = {event.again for event in run.running.events}
    found = [one for one in run.sheet.readings if one.name not in by_event]
    return sorted(found, key=lambda one: one is not run.quantity)


def clock_or_day(when: datetime, now: datetime) -> str:
    """'02:14', or with its day where that is not today."""
    return figures.clock(when) if site_day(when) == site_day(now) else figures.moment(when, year=False)


SHOWN_AT_ONCE = 5


def state_of_run(run: Run, now: datetime) -> Standing:
    """The word it is in, or how long it has lasted where its sheet says that this says more."""
    span = run.spans[-1]
    if run.running.by_hours and run.stopped is None:
        hours = int((now - run.begun).total_seconds() // 3600)
        return Standing(f"{max(hours, 0)} h", f"{span.state} since {clock_or_day(run.begun, now)}", span.state)
    since = run.in_state_since
    lasted = figures.span(max(now - since, timedelta(0)))
    made = next((one for one in reversed(run.happened) if not one.event.moment), None)
    beside = ""
    if made is not None and made.figures:
        joined = " at " if made.figures[0][0].unit == STRENGTH else ", "
        beside = f"{joined}{figures_said(made)}"
    return Standing(span.state, f"{lasted}, since {clock_or_day(since, now)}{beside}", f"{lasted}{beside}")


def figures_said(happened: Happened) -> str:
    """'73.4 %' or '7800 L, 64.0 °C'."""
    return ", ".join(f"{typed} {short_unit(field)}".strip() for field, typed in happened.figures)


def short_unit(field: Field) -> str:
    """The unit as it stands beside a figure in a line of words."""
    return "%" if field.unit == STRENGTH else unit_of(field)


def stages_of(run: Run, usual: Usual, now: datetime) -> list[Stage]:
    """All stages of a run from its first moment to its last."""
    sheet = run.sheet
    # What posts changes the vessel and not the stage.
    states = [one for one in run.happened if not one.event.moment and not one.event.only_notes]
    last = states[-1] if states else None
    first = sheet.field(sheet.moments[0].when).label.removesuffix(" at")
    found = [Stage(first, clock_or_day(run.begun, now), "", here=last is None, done=True)]
    correct = f"{record_address(run.record, 'record_add')}#id_"
    for event in run.running.events:
        made = next((one for one in states if one.event is event), None)
        if event.again or event.moment:
            continue
        if made is not None:
            said = figures_said(made)
            label = f"{event.label}, {said}" if said else event.label
            found.append(
                Stage(
                    label,
                    clock_or_day(made.at, now),
                    f"for {figures.span(now - made.at)}" if made is last and made.at <= now else "",
                    here=made is last,
                    done=True,
                    href=f"{correct}{event.when}",
                )
            )
        else:
            found.append(Stage(event.label, "", plan_of(run, event, usual, now), here=False, done=False))
    if last is not None and last.event.again:
        found = [*found[: _done(found)], _interruption(last, now), *found[_done(found) :]]
    near = f"near {clock_or_day(run.begun + usual.length, now)}" if usual.length else ""
    found.append(Stage(sheet.moments[-1].label, "", near, here=False, done=False))
    return found


def _done(stages: Sequence[Stage]) -> int:
    return sum(1 for one in stages if one.done)


def _interruption(last: Happened, now: datetime) -> Stage:
    return Stage(last.event.said, clock_or_day(last.at, now), "", here=True, done=True)


def plan_of(run: Run, event: Event, usual: Usual, now: datetime) -> str:
    """'plan 62.0 %, near 03:10': the plan on the sheet, else that of the last runs."""
    parts = []
    value = usual.planned(run, event)
    if value is not None:
        field = run.sheet.field(event.plan)
        parts.append(f"plan {figures.number(value, field.decimals)} {short_unit(field)}".strip())
    after = usual.after(event)
    if after is not None:
        parts.append(f"near {clock_or_day(run.begun + after, now)}")
    return ", ".join(parts)


def due_said(due: ReadingDue, now: datetime) -> str:
    """'due 02:15', 'overdue since 02:15' or 'next 02:30'."""
    at = clock_or_day(due.at, now)
    return {
        Waits.COMING: f"next {at}",
        Waits.DUE: f"due {at}",
        Waits.OVERDUE: f"overdue since {at}",
        Waits.STOPPED: "nothing due while it is stopped",
        Waits.NEVER: "not usually read",
    }[due.waits]


def reading_head(due: ReadingDue, now: datetime) -> str:
    """The heading of the boxes of the next reading: 'Reading due 02:15'."""
    said = due_said(due, now)
    if due.waits == Waits.STOPPED:
        return f"{said[:1].upper()}{said[1:]}"
    return f"Reading, {said}" if due.waits == Waits.NEVER else f"Reading {said}"


def missing_said(due: ReadingDue, now: datetime) -> str:
    """'01:30, 01:45 and 3 before', or nothing."""
    if not due.missing:
        return ""
    times = ", ".join(clock_or_day(at, now) for at in due.missing)
    return f"{times} and {due.missing_before} before" if due.missing_before else times


def last_reading(run: Run, now: datetime) -> str:
    """'70.6 % at 02:00', every quantity of the newest time; blank before the first."""
    shown = [one for one in figure_fields(run) if run.standing(one.name)]
    if not shown:
        return ""
    newest = max(run.standing(one.name)[-1].at for one in shown)
    said = [
        f"{each.value} {short_unit(one)}".strip()
        for one in shown
        for each in run.standing(one.name)[-1:]
        if each.at == newest
    ]
    return f"{', '.join(said)} at {clock_or_day(newest, now)}"


def readings_shown(run: Run, people: Mapping[int, Person], now: datetime, *, to_strike: str = "") -> ReadingsShown:
    """All readings of a run. `to_strike` is the address at which one is struck, with 0 in the place of its key."""
    read = {one.quantity for one in run.readings}
    fields = [one for one in figure_fields(run) if one.name in read]
    struck_by = {one.strikes_id: one for one in run.readings if one.strikes_id is not None}
    odd = unlikely_among(run.sheet, run.readings)
    notes: list[str] = []
    lines = []
    for at in sorted({one.at for one in run.readings}, reverse=True):
        together = [one for one in run.readings if one.at == at]
        said = ", ".join(one.value.capitalize() for one in together if one.quantity not in {f.name for f in fields})
        cells = []
        for field in fields:
            mine = [one for one in together if one.quantity == field.name]
            stands = [one for one in mine if one.pk not in struck_by and one.value]
            gone = [one for one in mine if one.pk in struck_by and one.value]
            mark = ""
            for one in gone:
                mark = letters(len(notes))
                by = struck_by[one.pk]
                name = people[by.person_id].shown_name if by.person_id in people else ""
                notes.append(f"{mark}  {one.value} struck {figures.clock(by.written_at)}: {by.reason}, {name}")
            links = [pages.Link(one.value, to_strike.replace("/0/", f"/{one.pk}/")) for one in stands]
            state = pages.LOOK if any(one.pk in odd for one in stands) else None
            cells.append(ReadingCell(links, ", ".join(one.value for one in gone), mark, state))
        names = dict.fromkeys(people[one.person_id].shown_name for one in together if one.person_id in people)
        hands = ", ".join(initials(name) for name in names)
        if said:
            lines.append(ReadingLine(clock_or_day(at, now), [], said, hands))
        # What was read at the minute at which something happened stands in a line of its own.
        if not said or any(cell.stands or cell.struck for cell in cells):
            lines.append(ReadingLine(clock_or_day(at, now), cells, "", hands))
    columns = [pages.Column(one.short_label, numeric=True, unit=unit_of(one)) for one in fields]
    return ReadingsShown(columns, lines[:SHOWN_AT_ONCE], lines[SHOWN_AT_ONCE:], notes)


def initials(name: str) -> str:
    """'BC' of 'Brodie Catterwell'."""
    return "".join(word[0].upper() for word in name.split() if word)


def balance_of(run: Run, charged_ul: int | None, filled: Sequence[Filling]) -> list[Part]:
    """The balance of a run as it fills, in litres of pure alcohol; nothing where the sheet charges no vessel."""
    if charged_ul is None:
        return []
    parts = [Part("Charged", figures.lpa(charged_ul, 1))]
    known = 0.0
    for one in filled:
        label = f"Into {one.vessel} so far"
        if one.gained is None:
            parts.append(Part(label, AT_THE_FINISH))
        else:
            known += one.gained.lpa
            label = f"Into {one.vessel}, gauged" if one.measured else label
            parts.append(Part(label, figures.number(one.gained.lpa, 1), estimate=not one.measured))
    if any(one.gained is not None for one in filled):
        left = max(charged_ul / 1_000_000 - known, 0.0)
        parts.append(Part(f"Left in {run.vessel}", figures.number(left, 1), estimate=True))
    return [*parts, Part("Difference", AT_THE_FINISH)]
