"""What stands beside This shift: the handover, notes, what is to be looked into, what was written late, what waits
for a second person.

One calm line each, in a bounded number of queries; nothing here asks for anything but the handover, which waits for a
name.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Final

from django.db.models import Q
from django.http import HttpRequest
from django.urls import reverse
from django.utils import timezone

from batches.awaited import awaited
from batches.casks.standing import to_regauge
from batches.handover.handing import last_handover
from batches.handover.models import Handover, Note
from batches.handover.noting import notes_of_shift
from batches.models import Version
from batches.pages.casks.ways import leaking_link
from batches.pages.common import signed_on
from batches.pages.handing.forms import NoteForm
from batches.pages.handing.notes import NOTE
from batches.pages.records.shown import record_address, title_of
from batches.pages.setting_up.asked import waiting_links
from batches.sheets.register import all_sheets
from distillery import pages
from distillery.clock.reading import books_now
from distillery.drafts.showing import Drafting, of_page
from distillery.pen.shift import names_on_shift
from distillery.people.roles import may_write
from ledger.enquiries.models import Enquiry
from ledger.enquiries.standing import UNANSWERED, standings
from ledger.so_far import so_far
from ledger.statements.at_work import at_work, on_in_vessels
from ledger.statements.balances import vessel_holdings
from ledger.statements.cleaned import cleaned
from ledger.views.enquiries.parts import enquiry_link
from ledger.views.ways import record_href

LATELY: Final = timedelta(days=3)
LAST_DAY: Final = timedelta(days=1)
MOST_LOOKED_AT: Final = 40
MOST_SHOWN: Final = 3
MOST_LEAKING: Final = 6
# As many people as look at one site within a minute.
REMEMBERED: Final = 32
# A record's last versions are looked at for who wrote it.
MOST_VERSIONS: Final = 60


@dataclass(frozen=True, slots=True)
class OfTheBooks:
    """What the books ask to be looked into, as far as they are written at a minute."""

    enquiries: list[pages.Link]
    late: list[pages.Link]
    to_clean: list[pages.Link]
    leaking: list[pages.Link]
    reports: list[pages.Link]
    asked: list[pages.Link]


@dataclass(frozen=True, slots=True)
class ShiftBeside:
    """What the aside shows. `may_take`: this person is who signs the handover next."""

    handover: Handover | None
    is_taken: bool
    may_take: bool
    notes: list[Note]
    writes: bool
    enquiries: list[pages.Link]
    more_enquiries: int
    late: list[pages.Link]
    to_clean: list[pages.Link]
    ways_to_clean: list[pages.Link]
    on_shift: list[str]
    leaking: list[pages.Link]
    reports: list[pages.Link]
    asked: list[pages.Link]
    more_asked: int
    note: NoteForm | None = None
    drafting: Drafting | None = None


def beside(request: HttpRequest) -> dict[str, ShiftBeside]:
    """The context of templates/batches/parts/shift_beside.html."""
    person = signed_on(request)
    writes = may_write(person)
    handover = last_handover()
    is_taken = handover is not None and hasattr(handover, "taken")
    minute = books_now().replace(second=0, microsecond=0)
    found = _of_the_books(person.pk, minute, timezone.now().replace(second=0, microsecond=0), so_far())
    note = NoteForm()
    return {
        "beside": ShiftBeside(
            handover=handover,
            is_taken=is_taken,
            may_take=writes and handover is not None and not is_taken and handover.person != person,
            notes=notes_of_shift(),
            writes=writes,
            on_shift=names_on_shift() if writes else [],
            enquiries=found.enquiries[:MOST_SHOWN],
            more_enquiries=max(len(found.enquiries) - MOST_SHOWN, 0),
            late=found.late,
            to_clean=found.to_clean,
            ways_to_clean=[
                pages.Link(f"New {sheet.title.lower()}", reverse("record_new", args=[sheet.kind]))
                for sheet in all_sheets()
                if writes and sheet.cleans is not None
            ],
            leaking=found.leaking,
            reports=found.reports,
            # Who only reads cannot agree.
            asked=found.asked[:MOST_SHOWN] if writes else [],
            more_asked=max(len(found.asked) - MOST_SHOWN, 0),
            note=note if writes else None,
            drafting=of_page(request, note, NOTE, reverse("notes")) if writes else None,
        )
    }


@lru_cache(maxsize=REMEMBERED)
def _of_the_books(person: int, now: datetime, written_by: datetime, _written: tuple[object, ...]) -> OfTheBooks:
    """The same for a person by their key: looked up once a minute, and whenever anything is written. `now` is the
    minute by the clock of the books, `written_by` by real time."""
    return OfTheBooks(
        enquiries=_enquiries(person, now),
        late=_late(written_by),
        to_clean=_to_clean(now),
        leaking=[leaking_link(one) for one in to_regauge()[:MOST_LEAKING]],
        reports=_reports(now),
        asked=waiting_links(),
    )


def _enquiries(person: int, now: datetime) -> list[pages.Link]:
    """Enquiries nobody has answered, opened about records of the last days or about records this person wrote."""
    own = set(
        Version.objects.filter(person_id=person)
        .order_by("-pk")
        .values_list("record__number", flat=True)[:MOST_VERSIONS]
    )
    concerned = Enquiry.objects.filter(Q(happened_at__gte=now - LATELY) | Q(record_number__in=own)).order_by("-pk")
    return [enquiry_link(one) for one in standings(concerned[:MOST_LOOKED_AT]) if one.state in UNANSWERED]


def _to_clean(now: datetime) -> list[pages.Link]:
    """Vessels that should be cleaned before they are filled again, longest due first; those in use are left out."""
    holdings = vessel_holdings()
    due = [(one.due_since, code, one) for code, one in cleaned(holdings, now).items() if one.due_since is not None]
    if not due:
        # As at a site that writes its cleanings elsewhere: what is going on need not be asked for.
        return []
    working = at_work()
    taken = {*on_in_vessels()} | {
        one.account.vessel.code
        for one in holdings
        if one.account.vessel is not None and one.account.vessel_id in working
    }
    return [
        pages.Link(code, record_href(one.record_kind, one.record_number), one.said)
        for _, code, one in sorted(due, key=lambda found: found[:2])
        if code not in taken
    ]


def _reports(now: datetime) -> list[pages.Link]:
    """What should have come from elsewhere by now, as the report of receipt of what went under bond."""
    return [
        pages.Link(one.record.number, record_address(one.record), f"{one.moment.lower()}, {one.said}")
        for one in awaited(now)
        if one.is_overdue
    ]


def _late(now: datetime) -> list[pages.Link]:
    """What was written late in the last day, with the reason that was given."""
    versions = Version.objects.filter(written_at__gte=now - LAST_DAY, late_reason__gt="")
    rows = versions.select_related("record", "person").order_by("-pk")[: 2 * MOST_SHOWN]
    return [
        pages.Link(
            one.record.number,
            record_address(one.record),
            f"{title_of(one.record.kind)}, {one.person.shown_name}: {one.late_reason}",
        )
        for one in rows
    ]
