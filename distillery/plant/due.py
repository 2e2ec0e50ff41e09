"""When the next certificate of each instrument and the next calibration of each vessel's table is due.

Worked out from the newest one and the site's intervals each time; nothing of it is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from django.db.models import Exists, Max, OuterRef
from django.urls import reverse

from distillery.plant.lookup import FIXED
from distillery.plant.models import CalibrationPoint, Instrument, Vessel
from distillery.rules.stating import CERTIFICATES, TABLES, intervals

MONTHS_A_YEAR: Final = 12
# From how many days before its day on it is said: common practice, no source.
SOON_DAYS: Final = 60
LAST_DAYS: Final = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


@dataclass(frozen=True, slots=True)
class Due:
    """One certificate or calibration: of what, the newest day it was done, and the day it is due again.

    `measures` is what the instrument measures, blank of a vessel. `done` is None where none is on record, `due` where
    none is or the site has set no interval (`months` 0).
    """

    measures: str
    code: str
    done: date | None
    months: int
    due: date | None
    today: date
    href: str

    @property
    def days_left(self) -> int | None:
        """Days to its day, negative once it is past."""
        return None if self.due is None else (self.due - self.today).days

    @property
    def is_overdue(self) -> bool:
        """True once its day is past."""
        return self.days_left is not None and self.days_left < 0

    @property
    def asks(self) -> bool:
        """True where it is overdue, due soon, or missing though the site has set an interval."""
        return bool(self.months) and (self.days_left is None or self.days_left <= SOON_DAYS)


def months_after(day: date, months: int) -> date:
    """The same day so many months later; the last of the month where it has no such day."""
    whole = day.year * MONTHS_A_YEAR + day.month - 1 + months
    year, month = divmod(whole, MONTHS_A_YEAR)
    leap = year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
    last = 29 if month == 1 and leap else LAST_DAYS[month]
    return date(year, month + 1, min(day.day, last))


def due_list(today: date) -> list[Due]:
    """Every instrument and every vessel with a table, those that are due first coming first. Three questions."""
    months = {what: row.months for what, row in intervals(today).items()}
    found = [
        _due(
            one.measures,
            one.code,
            one.issued,
            months.get(f"{CERTIFICATES}, {one.measures}", 0),
            today,
            f"{reverse('instrument_certificate')}?instrument={one.code}",
        )
        for one in Instrument.objects.annotate(issued=Max("certificates__issued_on"))
    ]
    with_table = Vessel.objects.filter(kind__in=FIXED).filter(
        Exists(CalibrationPoint.objects.filter(vessel=OuterRef("pk")))
    )
    found += [
        _due(
            "",
            one.code,
            one.calibrated,
            months.get(TABLES, 0),
            today,
            f"{reverse('vessel_calibration')}?vessel={one.code}",
        )
        for one in with_table.annotate(calibrated=Max("calibrations__from_day"))
    ]
    # What has a day before what has none; what asks for a first one before what is not asked for at all.
    return sorted(found, key=lambda one: (one.due is None, one.due or date.max, not one.months, one.measures, one.code))


def _due(measures: str, code: str, done: date | None, months: int, today: date, href: str) -> Due:
    due = months_after(done, months) if done is not None and months else None
    return Due(measures, code, done, months, due, today, href)


def asking(today: date) -> Sequence[Due]:
    """What is overdue or due within two months, with its day known."""
    return [one for one in due_list(today) if one.asks and one.due is not None]


def words(found: Sequence[Any]) -> str:
    """'1 certificate or table is overdue, 2 are due within 60 days'; blank where nothing is."""
    late = sum(1 for one in found if one.is_overdue)
    soon = len(found) - late
    parts = []
    if late:
        parts.append(f"{late} {'certificate or table is' if late == 1 else 'certificates or tables are'} overdue")
    if soon:
        parts.append(f"{soon} {'is' if soon == 1 else 'are'} due within {SOON_DAYS} days")
    return ", ".join(parts)
