"""What a site says of itself: its name and approval, how long things last, what is reported, and what it has stated.

Each is a new dated row with who, when and why; none is changed. Raises Unsettable as every dated figure does.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Iterable
from datetime import date
from typing import Final

from django.conf import settings
from django.db import DatabaseError
from django.utils import timezone

from distillery.clock.reading import offset_days
from distillery.people.models import Person
from distillery.rules import in_force
from distillery.rules.models import ReportingDuty
from distillery.rules.setting.entering import Unsettable, enter, said
from distillery.rules.site_facts import Interval, SiteDetails, Statement
from distillery.seals.writing import signed

log = logging.getLogger(__name__)

MOST_MONTHS: Final = 1200
MOST_DAYS: Final = 3650
# Another process of the site may have entered a new name; no page shows an older one for longer.
REMEMBERED_S: Final = 60.0
CERTIFICATES: Final = "certificate"
TABLES: Final = "calibration of a vessel's table"
RECORDS: Final = "records are kept"
# What takes a statement back is a later row of a name of its own; it stands among no choices, since nobody states it.
TAKES_BACK: Final = {Statement.What.MADE_AS_SCOTCH: "not made as Scotch"}

NOT_NAMED: Final = "Site not named yet"
INVENTED: Final = ("Harrowmere Distillery", "Harrowmere (invented), demonstration site")

_remembered: list[tuple[float, tuple[SiteDetails, ...]]] = []


def let_go() -> None:
    """Forgets the name of the site, so that the next page asks the database."""
    _remembered.clear()


def remember(rows: Iterable[SiteDetails], *, until: float) -> None:
    """Takes these for all that were entered, until a moment of `time.monotonic` in seconds."""
    _remembered[:] = [(until, tuple(rows))]


def details(on: date) -> SiteDetails:
    """Name, address and approval in force on a day; until any is entered, those of the settings, and without those the
    invented ones in books for practice, and a sentence in a site's own: nobody's prints bear another's name.

    Kept by the process for a minute, because every page bears them.
    """
    now = time.monotonic()
    if not _remembered or now > _remembered[0][0]:
        try:
            remember(SiteDetails.objects.order_by("from_day", "pk"), until=now + REMEMBERED_S)
        except DatabaseError:
            # The page that says the database cannot be read bears a name too.
            log.warning("The name of the site could not be read; the one known before stands.")
    in_time = [row for row in (_remembered[0][1] if _remembered else ()) if row.from_day <= on]
    if in_time:
        return in_time[-1]
    name, address = settings.SITE_NAME, settings.SITE_ADDRESS
    if not name:
        name, address = INVENTED if _for_practice() else (NOT_NAMED, address)
    return SiteDetails(name=name, address=address, approval_number=settings.SITE_APPROVAL, from_day=on)


def _for_practice() -> bool:
    try:
        return bool(offset_days())
    except DatabaseError:
        return False


@signed("figures of the site")
def set_details(
    *,
    name: str,
    address: str,
    approval_number: str = "",
    warehouse_approval: str = "",
    from_day: date,
    source: str,
    person: Person | None = None,
    reason: str = "",
) -> SiteDetails:
    """Name, postal address and approval numbers of the site from a day on; pages and prints bear them from then."""
    row = SiteDetails(
        name=_fits("name", said("name", name), 120),
        address=_fits("address", said("address", address), 300),
        approval_number=_fits("approval_number", approval_number.strip(), 60),
        warehouse_approval=_fits("warehouse_approval", warehouse_approval.strip(), 60),
        from_day=from_day,
        source=said("source", source),
    )
    enter(row, person=person, reason=reason)
    let_go()
    return row


def intervals(on: date) -> dict[str, Interval]:
    """How many months each thing lasts that the site has an interval for, as in force on a day."""
    rows = Interval.objects.filter(from_day__lte=on).order_by("from_day", "pk")
    return {row.what: row for row in rows}


@signed("figures of the site")
def set_interval(
    *, what: str, months: int, from_day: date, source: str, person: Person | None = None, reason: str = ""
) -> Interval:
    """How many months something lasts from a day on, 0 to 1200; 0 ends it: nothing is due any more."""
    known = set(Interval.objects.values_list("what", flat=True))
    if what not in known:
        raise Unsettable("what", f"Nothing is called {what}; there are: {', '.join(sorted(known))}.")
    if not 0 <= months <= MOST_MONTHS:
        raise Unsettable("months", f"{months} months cannot be: 0 to {MOST_MONTHS}.")
    row = Interval(what=what, months=months, from_day=from_day, source=said("source", source))
    return enter(row, person=person, reason=reason)


@signed("figures of the site")
def set_reporting_duty(
    *,
    operation: str,
    occasion: str,
    report: str,
    by_whom: str,
    until: str,
    within_days: int | None = None,
    business_days: bool = False,
    from_day: date,
    source: str,
    person: Person | None = None,
    reason: str = "",
) -> ReportingDuty:
    """What has to be reported of an operation from a day on; it takes the place of the same report before it."""
    if within_days is not None and not 0 <= within_days <= MOST_DAYS:
        raise Unsettable("within_days", f"{within_days} days cannot be: 0 to {MOST_DAYS}.")
    row = ReportingDuty(
        operation=_fits("operation", said("operation", operation), 40),
        occasion=_fits("occasion", said("occasion", occasion), 60),
        said=said("report", report),
        by_whom=_fits("by_whom", said("by_whom", by_whom), 80),
        until=_fits("until", said("until", until), 120),
        within_days=within_days,
        business_days=business_days,
        from_day=from_day,
        source=said("source", source),
    )
    return enter(row, person=person, reason=reason)


@signed("figures of the site")
def state(what: Statement.What, *, person: Person, remark: str = "") -> Statement:
    """A person states something of the site that no figure says."""
    made = Statement.objects.create(what=what, said=remark.strip(), person=person, entered_at=timezone.now())
    in_force.let_go()
    return made


@signed("figures of the site")
def take_back(what: Statement.What, *, person: Person, reason: str) -> Statement:
    """A person takes back what was stated, with a reason; both stay on record, and it may be stated anew. Raises
    Unsettable where it does not stand, or cannot be taken back."""
    if what not in TAKES_BACK or stated(what) is None:
        raise Unsettable("reason", "This is not stated now: there is nothing to take back.")
    why = reason.strip()
    if not why:
        raise Unsettable("reason", "Say why it is taken back, in a few words: it is kept with your name.")
    made = Statement.objects.create(what=TAKES_BACK[what], said=why, person=person, entered_at=timezone.now())
    in_force.let_go()
    return made


def stated(what: Statement.What) -> Statement | None:
    """The newest statement of a kind; None where nobody has made it, or it was taken back since."""
    newest = next(iter(statements(what)), None)
    return newest if newest is not None and newest.what == what else None


def statements(what: Statement.What) -> list[Statement]:
    """Each time a thing was stated or taken back, the newest first."""
    names = [what, *([TAKES_BACK[what]] if what in TAKES_BACK else [])]
    return list(Statement.objects.select_related("person").filter(what__in=names).order_by("-pk"))


def _fits(field: str, text: str, longest: int) -> str:
    if not text.isprintable():
        raise Unsettable(field, "This holds a sign that cannot be printed: type it again.")
    if len(text) > longest:
        raise Unsettable(field, f"This is longer than {longest} characters: shorten it.")
    return text
