"""What the board shows of a span of months: stock by stage, yields, losses by cause, differences, casks by their age.

Everything comes from sums kept by month and from a few questions for all mashes of the span, so that ten years cost
little more than one. It is worked out anew whenever anything was written, and remembered until then by the process that
asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Final

from batches.distilling.mashes import MashesTogether, MashYield, mash_yields, together
from batches.distilling.periods import all_periods
from batches.distilling.yields import yields_of
from batches.sheets.site import Site
from distillery.clock.reading import books_now, books_today
from distillery.plant.models import Stage
from ledger.periods.calendar import Calendar
from ledger.so_far import so_far
from ledger.statements.casks_by_age import AgeLine, casks_by_age
from ledger.statements.month import known_periods
from ledger.statements.monthly.earlier import stage_closings
from ledger.statements.monthly.losses import differences_by_month, losses_by_month

SHOWN_AT_FIRST: Final = 12
# Distillation periods that are shown, the last ones of the span: each is worked out from its runs.
MOST_PERIODS: Final = 12
# Months of a span whose mashes are read one by one, the last ones.
MOST_MONTHS_OF_MASHES: Final = 36
REMEMBERED: Final = 8


@dataclass(frozen=True, slots=True)
class Span:
    """The months shown, the first to the last, with what is said where the address asked for others."""

    first: str
    last: str
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class MonthOnBoard:
    """One month: what each stage held at its end, net losses by cause, what differs, and its mashes as one."""

    period: str
    name: str
    stages: dict[str, int]
    losses: dict[str, int]
    difference_ul: int
    mashes: MashesTogether | None = None

    @property
    def held_ul(self) -> int:
        """What the site held at its end."""
        return sum(self.stages.values())

    @property
    def lost_ul(self) -> int:
        """Its known losses together."""
        return sum(self.losses.values())


@dataclass(frozen=True, slots=True)
class PeriodOnBoard:
    """A distillation period that ended in the span: LPA a tonne, and what its malt promised."""

    number: str
    spirits: str
    ended_at: datetime
    malt_kilograms: float
    reached: float | None
    promised: float | None


@dataclass(frozen=True, slots=True)
class Board:
    """All that the board shows. `mashes_since` is the first month whose mashes were read, unless that is the first."""

    span: Span
    months: tuple[MonthOnBoard, ...]
    mashes: tuple[MashYield, ...]
    periods: tuple[PeriodOnBoard, ...]
    ages: tuple[AgeLine, ...]
    mashes_since: str = ""

    @property
    def stages(self) -> list[str]:
        """The stages that held anything in the span, along the way of the alcohol."""
        return [stage for stage in Stage.values if any(month.stages.get(stage) for month in self.months)]

    @property
    def causes(self) -> list[str]:
        """The causes of loss in the span, the largest first."""
        sums: dict[str, int] = {}
        for month in self.months:
            for cause, net in month.losses.items():
                sums[cause] = sums.get(cause, 0) + net
        return sorted(sums, key=lambda cause: (-sums[cause], cause))


def span_of(known: Sequence[str], first: str, last: str) -> Span | None:
    """The span an address asks for among the known months, newest first; None where there is none yet."""
    if not known:
        return None
    words = [
        f"'{asked[:20]}' is no month of these books, so it is left out."
        for asked in (first, last)
        if asked and asked not in known
    ]
    last = last if last in known else known[0]
    before = [one for one in known if one <= last]
    first = first if first in known else before[min(SHOWN_AT_FIRST, len(before)) - 1]
    if first > last:
        words.append("The first month came after the last, so the two are changed over.")
        first, last = last, first
    return Span(first, last, tuple(words))


def board(first: str, last: str) -> Board | None:
    """The board of the months asked for, or of the last twelve; None while there is no month."""
    return _board(first, last, so_far(), books_today())


@lru_cache(maxsize=REMEMBERED)
def _board(first: str, last: str, _so_far: tuple[object, ...], _today: date) -> Board | None:
    calendar = Calendar.read()
    known = known_periods(calendar)
    span = span_of(known, first, last)
    if span is None:
        return None
    periods = [one for one in reversed(known) if span.first <= one <= span.last]
    read = periods[-MOST_MONTHS_OF_MASHES:]
    bounds = {one: calendar.bounds(one) for one in periods}
    since, until = bounds[read[0]][0], bounds[periods[-1]][1]
    mashes = mash_yields(since, until)
    held = stage_closings(periods)
    losses, differences = losses_by_month(span.first, span.last), differences_by_month(span.first, span.last)
    months = []
    for period in periods:
        begins, ends = bounds[period]
        own = [one for one in mashes if begins <= one.started_at < ends]
        months.append(
            MonthOnBoard(
                period,
                calendar.name_of(period),
                held[period],
                losses.get(period, {}),
                differences.get(period, 0),
                together(own) if own else None,
            )
        )
    return Board(
        span,
        tuple(months),
        tuple(mashes),
        tuple(_periods(since, until)),
        tuple(casks_by_age(books_now())),
        "" if read[0] == periods[0] else calendar.name_of(read[0]),
    )


def _periods(since: datetime, until: datetime) -> list[PeriodOnBoard]:
    """The last distillation periods that ended from one moment up to another, the first one first."""
    ended = [one for one in all_periods() if one.ended_at is not None and since <= one.ended_at < until]
    newest = sorted(ended, key=lambda one: one.ended_at or since)[-MOST_PERIODS:]
    found = []
    for worked in yields_of(newest, Site()):
        period = worked.period
        assert period.ended_at is not None
        found.append(
            PeriodOnBoard(
                period.number,
                period.spirits,
                period.ended_at,
                worked.malt_kilograms,
                worked.lpa_per_tonne,
                worked.predicted,
            )
        )
    return found
