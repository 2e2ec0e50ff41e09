"""What is asked before a time is written: later than now, before the vessel's opening stock, far from the rest of its
record, long ago, or in the hour that comes twice.

Tables are not asked; what is ahead of the clock there is found by `ledger.comparing.findings.untimely`.

How long a run or a fermentation may last without a question is common practice, no source; so is what counts as long
ago, a quarter of a year.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from datetime import UTC, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from django.conf import settings

from batches.records.asking.questions import Question, Sure, Why, ask
from batches.sheets.sheet import Field, Kind, Note
from batches.sheets.typed.moments import dated, is_now, on_the_clock, says_its_offset, second_of_two
from batches.sheets.typed.read_sheet import Filled
from distillery import figures
from distillery.clock.reading import is_ahead, site_day
from distillery.plant.models import Vessel
from ledger.posting.accounts import OPENING_STOCK
from ledger.statements.balances import opening_moments

LONG_AGO: Final = timedelta(days=92)
# A reading may be taken a little before its record begins or after it ends.
BESIDE_RECORD: Final = timedelta(hours=2)

_REMARKS: Final = {
    Why.AHEAD: "This time was ahead of the clock of the books when it was written.",
    Why.BEFORE_OPENING: "This time lies before the opening stock of a vessel that the record names.",
    Why.TWICE: "The clocks went back that night and this time came twice; it is kept as the first of the two.",
    Why.FAR: "This time lies far from the others of the record.",
    Why.LONG_AGO: "This was long ago when it was written.",
}


def ask_about_times(
    filled: Filled, *, now: datetime, sure: Sure, before: tuple[Mapping[str, str], object] | None = None
) -> None:
    """Asks about the times of a sheet that are new or changed since the version `before`, and remarks on those kept.

    `now` is the time by the books' clock. Raises Asked with the questions that `sure` does not answer.
    """
    found = list(_about(filled, now, before[0] if before is not None else {}))
    ask(found, sure)
    filled.notes += [
        Note(one.field, None, one.remark)
        for one in found
        # Reading the time has remarked on the hour that comes twice.
        if one.why != Why.TWICE
    ]


def question_about_reading_time(
    field: Field, at: datetime, begins: datetime, ends: datetime | None, *, named: str, now: datetime, typed: str = ""
) -> Question | None:
    """The question about the time of a reading along the way of a record (`named`) that lasted from `begins` to
    `ends`, or None where nothing is unlikely about it. `typed` is its text, where it was typed."""
    question = _ahead(field, at, now, lambda moment: moment >= begins - BESIDE_RECORD)
    last = ends if ends is not None else now
    if question is None and not begins - BESIDE_RECORD <= at <= last + BESIDE_RECORD:
        side = f"began {figures.moment(begins, year=True)}"
        if at > begins and ends is not None:
            side = f"ended {figures.moment(ends, year=True)}"
        question = _question(
            field,
            Why.FAR,
            at,
            f"{field.label} is {_shown(at)}, but {named} {side}.",
            _nearest(at, begins, lambda one: begins - BESIDE_RECORD <= one <= last + BESIDE_RECORD),
        )
    if question is None and typed and not is_now(typed):
        question = _twice(field, typed, at, now)
    return question


def _about(filled: Filled, now: datetime, before: Mapping[str, str]) -> Iterator[Question]:
    sheet, completed = filled.completed.sheet, filled.completed
    times = [one for one in sheet.fields if one.kind == Kind.MOMENT and completed.has(one.name)]
    changed = {one.name for one in sheet.fields if filled.typed.get(one.name) != before.get(one.name)}
    opening = sheet.operation == OPENING_STOCK
    opened: dict[str, datetime] = {}
    if not opening and (not before or changed):
        opened = opening_moments(_vessels(filled, changed if before else None))
    first = sheet.field(sheet.moments[0].when)
    begins = completed.moment(first.name)
    for one in times:
        moment = completed.moment(one.name)
        longest = sheet.longest

        def fits(other: datetime, one: Field = one, longest: timedelta = longest) -> bool:
            if one is not first and not begins <= other <= begins + longest:
                return False
            return not is_ahead(other, now) and not any(other < at for at in opened.values())

        is_new, is_first = one.name in changed, one.name == first.name
        question = _ahead(one, moment, now, fits) if is_new else None
        if question is None and is_first:
            question = _before_opening(one, moment, opened, now, fits)
        if question is None and is_new:
            question = _twice(one, filled.typed[one.name], moment, now)
        if question is None and (is_new or first.name in changed):
            question = _far(one, first, moment, begins, longest, fits)
        if question is None and is_first and is_new and not opening:
            question = _long_ago(one, moment, now, fits)
        if question is not None:
            yield question


def _vessels(filled: Filled, changed: Collection[str] | None) -> set[int]:
    """Keys of the vessels a sheet names; with `changed`, all of them where a time changed, else those that did."""
    sheet, completed = filled.completed.sheet, filled.completed
    times = {one.name for one in sheet.fields if one.kind == Kind.MOMENT}
    everything = changed is None or bool(times & set(changed))
    found = {
        value.pk
        for name, value in completed.values.items()
        if isinstance(value, Vessel) and (everything or name in (changed or ()))
    }
    if everything:
        found |= {value.pk for line in completed.rows for value in line.values.values() if isinstance(value, Vessel)}
    return found


# -- the questions


def _ahead(field: Field, moment: datetime, now: datetime, fits: Callable[[datetime], bool]) -> Question | None:
    if not is_ahead(moment, now):
        return None
    sentence = (
        f"{field.label} is {_shown(moment)}, {_apart(moment - now)} ahead of the clock "
        f"({_shown(now)}). Is it really to be written as of then?"
    )
    return _question(field, Why.AHEAD, moment, sentence, _nearest(moment, now, fits))


def _before_opening(
    field: Field, moment: datetime, opened: Mapping[str, datetime], now: datetime, fits: Callable[[datetime], bool]
) -> Question | None:
    later = {code: at for code, at in opened.items() if moment < at}
    if not later:
        return None
    code = max(later, key=lambda one: later[one])
    sentence = (
        f"{field.label} is {_shown(moment)}, but the books of {code} begin with its opening stock of "
        f"{_shown(later[code])}. Did it happen before that?"
    )
    return _question(field, Why.BEFORE_OPENING, moment, sentence, _nearest(moment, now, fits))


def _twice(field: Field, typed: str, moment: datetime, now: datetime) -> Question | None:
    second = second_of_two(moment)
    if second is None or second > now or says_its_offset(typed):
        return None
    first, other = figures.clock(moment), figures.clock(second)
    return Question(
        field.name,
        Why.TWICE,
        f"{field.label}: the clocks went back that night. Was it the first {first[:5]} or the second?",
        _said(moment),
        f"The first, {first}",
        dated(second),
        f"The second, {other}",
        _REMARKS[Why.TWICE],
    )


def _far(
    field: Field,
    first: Field,
    moment: datetime,
    begins: datetime,
    longest: timedelta,
    fits: Callable[[datetime], bool],
) -> Question | None:
    if moment - begins <= longest:
        return None
    sentence = (
        f"{field.label} is {_shown(moment)}, {_apart(moment - begins)} after {first.label.lower()} "
        f"({_shown(begins)}). Did it last so long?"
    )
    return _question(field, Why.FAR, moment, sentence, _nearest(moment, begins, fits))


def _long_ago(field: Field, moment: datetime, now: datetime, fits: Callable[[datetime], bool]) -> Question | None:
    if now - moment <= LONG_AGO:
        return None
    sentence = f"{field.label} is {_shown(moment)}, {_apart(now - moment)} ago. Was it then?"
    return _question(
        field, Why.LONG_AGO, moment, sentence, _nearest(moment, now, lambda one: fits(one) and now - one <= LONG_AGO)
    )


def _question(field: Field, why: Why, moment: datetime, sentence: str, instead: datetime | None) -> Question:
    meant = ("", "") if instead is None else (dated(instead), f"It was {_shown(instead)}")
    return Question(field.name, why, sentence, _said(moment), f"Keep {_shown(moment)}", *meant, _REMARKS[why])


def _said(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="minutes")


def _apart(length: timedelta) -> str:
    """A span of time as it is said: hours of a long one say nothing, nor do the days of years."""
    if length.days >= 2 * 365:
        return f"{figures.count(round(length.days / 365.25))} years"
    return figures.span(timedelta(days=length.days) if length.days > 2 else length)


def _shown(moment: datetime) -> str:
    return figures.moment(moment, year=True)


def _nearest(moment: datetime, reference: datetime, fits: Callable[[datetime], bool]) -> datetime | None:
    """The time that was probably meant: the same hour and minute, with another year, month or day near `reference`."""
    return next((one for one in _slips(moment, reference) if one != moment and fits(one)), None)


def _slips(moment: datetime, reference: datetime) -> Iterable[datetime]:
    zone = ZoneInfo(settings.TIME_ZONE)
    local, near = moment.astimezone(zone).replace(tzinfo=None), site_day(reference)
    month_before = (near.replace(day=1) - timedelta(days=1)).replace(day=1)
    for year, month, day in (
        (near.year, local.month, local.day),
        (near.year - 1, local.month, local.day),
        (near.year, near.month, local.day),
        (month_before.year, month_before.month, local.day),
        (near.year, near.month, near.day),
        *((one.year, one.month, one.day) for one in (near + timedelta(days=1), near - timedelta(days=1))),
    ):
        try:
            yield on_the_clock(local.replace(year=year, month=month, day=day), zone)[0]
        except ValueError:
            continue  # there is no such day, such as 31 February
