"""What the readings on a sheet come to while it is still being written: each gauge at its row's end, and below them
what the vessels of a step gave and took between their gauges before and after.

Nothing is posted and nothing is needed: a gauge whose readings are not all there comes to nothing yet. The figures are
those that posting would make of the same readings, since both go through `ledger.posting.gauging.measure`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from batches.pages.results import results_of
from batches.sheets.gauges import By, Gauge
from batches.sheets.results import Result
from batches.sheets.sheet import Moment, Role, Sheet
from batches.sheets.site import Site
from batches.sheets.typed.completed import Completed, Written
from batches.sheets.typed.moments import NOW
from batches.sheets.typed.read_sheet import read_so_far
from batches.sheets.typed.values import Ungaugeable
from distillery.alcoholometry.quantity import Quantity


@dataclass(frozen=True, slots=True)
class CameTo:
    """What a gauge comes to: litres and % vol at 20 °C, pure alcohol in microlitres. Without them, `why` says why not,
    where its readings are all there.
    """

    quantity: Quantity | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class Pair:
    """A vessel's gauge before and its next one after: what it gave or took in between, at the moment of the second."""

    vessel: str
    before: str
    after: str
    moment: Moment


@dataclass(frozen=True, slots=True)
class Moved:
    """What a vessel gave (positive) or took between two gauges: microlitres of pure alcohol, litres at 20 °C."""

    pair: Pair
    code: str
    pure_ul: int
    litres20: float


@dataclass(frozen=True, slots=True)
class WorkedOut:
    """A sheet so far: its gauges by prefix, those of each line by its place on the page, what was moved, and what the
    step makes of it."""

    gauges: Mapping[str, CameTo]
    lines: Mapping[int, Mapping[str, CameTo]]
    moved: Sequence[Moved]
    results: Sequence[Result] = ()


def pairs_of(sheet: Sheet, is_written: Callable[[str], bool]) -> Iterator[Pair]:
    """The gauges of a sheet two by two, each vessel's gauge before with its next one after. Those of a moment that may
    never come are left out until a field of it is written."""
    begun: dict[str, str] = {}
    for declared in sheet.gauges:
        gauge, moment = declared.following(is_written), sheet.moment_of(declared.fields[0].name)
        if moment.optional and not any(is_written(one.name) for one in sheet.fields_of(moment)):
            continue
        if gauge.role == Role.BEFORE:
            begun[gauge.vessel] = gauge.prefix
        elif before := begun.pop(gauge.vessel, ""):
            yield Pair(gauge.vessel, before, gauge.prefix, moment)


def work_out(
    sheet: Sheet,
    typed: Mapping[str, str],
    rows: Sequence[Mapping[str, str]] = (),
    *,
    site: Site,
    now: datetime,
    number: str = "",
    day: date | None = None,
) -> WorkedOut:
    """What a sheet that is being written comes to. The first moment, and one of which something is written, counts as
    now while it has no time yet; the others have not come.
    """
    first = sheet.moments[0]
    times = {one.when: NOW for one in sheet.moments if one is first or _is_begun(sheet, one, typed)}
    times |= {name: text for name in times if (text := typed.get(name, "").strip())}
    completed = read_so_far(sheet, {**typed, **times}, rows, site=site, number=number, day=day, now=now)
    gauges = {one.prefix: _came_to(completed, one) for one in sheet.gauges}
    places = [place for place, line in enumerate(rows) if any(text.strip() for text in line.values())]
    declared = sheet.rows.gauges if sheet.rows else ()
    lines = {
        place: {one.prefix: _came_to(line, one) for one in declared}
        for place, line in zip(places, completed.rows, strict=True)
    }
    return WorkedOut(gauges, lines, _moved(completed, gauges, typed), results_of(completed, now))


def _is_begun(sheet: Sheet, moment: Moment, typed: Mapping[str, str]) -> bool:
    """True where something of a moment is written besides what stands in its boxes beforehand."""
    return any(typed.get(one.name, "").strip() not in ("", one.default) for one in sheet.fields_of(moment))


def _moved(completed: Completed, gauges: Mapping[str, CameTo], typed: Mapping[str, str]) -> list[Moved]:
    found = []
    for pair in pairs_of(completed.sheet, lambda name: bool(typed.get(name, "").strip())):
        before, after = gauges[pair.before].quantity, gauges[pair.after].quantity
        if before is not None and after is not None:
            code = completed.vessel(pair.vessel).code
            found.append(Moved(pair, code, before.pure_ul - after.pure_ul, before.litres20 - after.litres20))
    return found


def _came_to(written: Written, declared: Gauge) -> CameTo:
    """A gauge from what is there; nothing where a reading of it is missing or cannot be read."""
    gauge = written.gauge(declared.prefix)
    if declared.same_of and written.shares(declared.prefix):
        needed = [gauge.vessel, declared.same_of]
    elif gauge.by in (By.SPIRIT_DIP, By.WASH_DIP):
        needed = [gauge.vessel, gauge.name("dip_mm")]
    else:
        needed = [gauge.name(part) for part in gauge.parts]
    if not all(written.has(name) for name in needed):
        return CameTo()
    moment = written.sheet.moment_of(declared.fields[0].name)
    try:
        at = written.moment(moment.when) if gauge.by == By.WASH_DIP else None
        return CameTo(written.quantity(declared.prefix, at=at))
    except Ungaugeable as error:
        # What hangs on a box that is still blank is not wrong yet.
        return CameTo(why=error.sentence if written.has(error.field) else "")
