"""What the law asks of a spirit that bears a name, and what has to be reported of an operation, as in force on a day.

A market with rules of its own has a set of its own: its rows stand under the name with the market in brackets behind
it, `gin (NI and EU)`. A name without brackets is held to the rules of the market at home.

Each is a dated row with its source; of rows with the same name and code the one that starts latest on or before the day
holds, of two that start the same day the one written last. The law and the officer decide; this says what is asked.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from functools import reduce
from operator import or_

from django.db.models import Q

from distillery.people.models import Person
from distillery.process.product_names import Requirement, Way
from distillery.rules.models import NameRequirement, ReportingDuty
from distillery.rules.setting.entering import Unsettable, enter
from distillery.rules.units import MILLIONTHS, UnusableFigureError, whole
from distillery.seals.writing import signed

SATURDAY = 5
# What neutral spirit has to be before vodka or distilled gin is made of it.
AGRICULTURAL_ALCOHOL = "ethyl alcohol of agricultural origin"
SIZE_OF_CASKS = "size of casks"
# The market whose rules stand under a name alone.
HOME_MARKET = "Great Britain"
SCOTCH = "Scotch whisky"
WHISKY = ("whisky", SCOTCH, "single malt Scotch whisky")


@dataclass(frozen=True, slots=True)
class Duty:
    """What has to be reported, by whom, until when, and the text it rests on."""

    occasion: str
    said: str
    by_whom: str
    until: str
    source: str
    within_days: int | None = None
    business_days: bool = False

    def by_day(self, happened: date) -> date | None:
        """The last day, counted from that on which it happened; weekends are left out of business days, public holidays
        are not known. None where it goes by no number of days."""
        if self.within_days is None:
            return None
        day, left = happened, self.within_days
        while left:
            day += timedelta(days=1)
            left -= not self.business_days or day.weekday() < SATURDAY
        return day


def known_names() -> list[str]:
    """The names of spirits for which anything is asked, in the order in which they were entered."""
    return list(dict.fromkeys(NameRequirement.objects.values_list("name", flat=True)))


def name_in_market(name: str, market: str) -> str:
    """The name under which the rules of a market stand; blank and the market at home have the name itself."""
    market = market.strip()
    if market.casefold() in ("", HOME_MARKET.casefold()) or name.casefold().endswith(f" ({market.casefold()})"):
        return name
    return f"{name} ({market})"


def requirements(name: str, on: date) -> list[Requirement]:
    """What a name asks for on a day, in order; nothing for a name that the site has no rule of."""
    newest: dict[str, NameRequirement] = {}
    for row in NameRequirement.objects.filter(name__iexact=name, from_day__lte=on).order_by("from_day", "pk"):
        newest[row.code] = row
    return [
        Requirement(
            code=row.code,
            said=row.said,
            measure=row.measure,
            way=Way(row.way),
            limit=None if row.limit_millionths is None else row.limit_millionths / MILLIONTHS,
            words=row.words,
            unit=row.unit,
            source=row.source,
        )
        for row in newest.values()
    ]


def largest_that_counts(on: date) -> float | None:
    """Litres of the largest cask in which time counts, by the rule in force on a day; None where there is none."""
    any_of_them = reduce(or_, (Q(name__iexact=name) for name in WHISKY))
    newest: dict[tuple[str, str], NameRequirement] = {}
    for row in NameRequirement.objects.filter(any_of_them, from_day__lte=on).order_by("from_day", "pk"):
        newest[row.name.casefold(), row.code] = row
    limits = [row.limit_millionths for row in newest.values() if row.measure == SIZE_OF_CASKS]
    return min((one / MILLIONTHS for one in limits if one is not None), default=None)


def duties(operation: str, on: date, *occasions: str) -> list[Duty]:
    """What has to be reported of an operation on these occasions, as the law stands on a day."""
    rows = ReportingDuty.objects.filter(operation=operation, occasion__in=occasions, from_day__lte=on)
    newest = {(row.occasion, row.said): row for row in rows.order_by("from_day", "pk")}
    return [
        Duty(row.occasion, row.said, row.by_whom, row.until, row.source, row.within_days, row.business_days)
        for row in newest.values()
    ]


@signed("figures of the site")
def set_requirement(
    *,
    name: str,
    code: str,
    said: str,
    measure: str,
    way: str,
    limit: Decimal | None = None,
    words: str = "",
    unit: str = "",
    from_day: date,
    source: str,
    person: Person | None = None,
    reason: str = "",
) -> NameRequirement:
    """Adds what a name asks for from a day on; it takes the place of an earlier row of the same code.

    A limit in its own unit, or words parted by |. Raises Unsettable.
    """
    for field, text in {"name": name, "code": code, "said": said, "measure": measure, "source": source}.items():
        if not text.strip():
            raise Unsettable(field, f"Fill in the {field}: a requirement without it cannot be explained later.")
    if way not in set(Way):
        raise Unsettable("way", f"{way} is no way to hold a measure; there are: {', '.join(Way)}.")
    in_words = way in (Way.IS, Way.INCLUDES)
    if in_words and not words.strip():
        raise Unsettable("words", "Say what has to stand there.")
    if not in_words and limit is None:
        raise Unsettable("limit", "Give the limit, in the unit of the measure.")
    try:
        parts = None if limit is None else whole(limit, MILLIONTHS)
    except UnusableFigureError as error:
        raise Unsettable("limit", str(error)) from error
    known = next((one for one in known_names() if one.casefold() == name.strip().casefold()), name.strip())
    row = NameRequirement(
        name=known,
        code=code.strip(),
        said=said.strip(),
        measure=measure.strip(),
        way=way,
        limit_millionths=parts,
        words=words.strip(),
        unit=unit.strip(),
        from_day=from_day,
        source=source.strip(),
    )
    return enter(row, person=person, reason=reason)
