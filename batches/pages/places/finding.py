"""What a text leads to: records, vessels, casks, enquiries, visit notes by number; lots, documents, names, people.

Numbers are known in capitals and small letters and without their noughts: m10 is M010, 2022/7 is 2022/0007. What a
number is wholly comes first; only where nothing is, what is named so or begins so.
"""

from __future__ import annotations

from typing import Final

from django.db.models import Q
from django.urls import reverse
from django.utils.http import urlencode

from batches.counting.models import StockTake, serial_of
from batches.models import Mention, Record
from batches.pages.records.shown import record_address, title_of
from batches.pages.stores.tables import lot_address
from batches.stores.book import key_of
from batches.stores.models import Lot
from batches.visits.models import VisitNote
from batches.visits.noting import visit_notes_numbered
from distillery import figures, pages
from distillery.people.models import Person
from distillery.plant.models import Kind as VesselKind
from distillery.plant.models import Vessel
from distillery.typed.spellings import begins, spellings
from ledger.enquiries.models import Enquiry
from ledger.enquiries.standing import standings
from ledger.models import Account, AccountKind
from ledger.views.enquiries.parts import enquiry_link
from ledger.views.ways import account_href

MOST: Final = 50
NAMED: Final = (Mention.What.LOT, Mention.What.DOCUMENT, Mention.What.PRODUCT)


def found(text: str) -> list[pages.Link]:
    """The ways to all that a text may mean, at most MOST of a kind; none for a blank text."""
    if not text or "\x00" in text:
        return []
    return _whole(text) or _named(text) or _beginning(text)


def _whole(text: str) -> list[pages.Link]:
    numbers = spellings(text)
    links = [_to_record(record) for record in Record.objects.filter(number__in=numbers).order_by("number")]
    links += [_to_vessel(vessel) for vessel in Vessel.objects.filter(code__in=numbers).order_by("code")]
    if (serial := serial_of(text)) is not None:
        takes = StockTake.objects.filter(serial=serial)
        links += [pages.Link(one.number, reverse("stock_take", args=[one.serial]), "Stock take") for one in takes]
    links += [_to_visit_note(note) for note in visit_notes_numbered(text)]
    return links + [enquiry_link(one) for one in standings(Enquiry.objects.filter(number__in=numbers))]


def _named(text: str) -> list[pages.Link]:
    """What is called so: stocks, vessels and people by a part of their name, lots, documents and products whole."""
    stocks = Account.objects.filter(kind=AccountKind.STOCK, name__icontains=text).order_by("name")[:MOST]
    vessels = Vessel.objects.exclude(kind=VesselKind.CASK).filter(name__icontains=text)[:MOST]
    people = Person.objects.filter(
        Q(username__iexact=text) | Q(first_name__iexact=text) | Q(last_name__iexact=text)
    ).order_by("username")[:MOST]
    links = [pages.Link(one.name, account_href(one), "Bottled stock") for one in stocks]
    links += [_to_vessel(vessel) for vessel in vessels]
    links += [_to_person(person) for person in people]
    links += [_to_lot(lot) for lot in Lot.objects.filter(key=key_of(text), first_at__isnull=False).order_by("kind")]
    return links + _mentioned(text)


def _mentioned(text: str) -> list[pages.Link]:
    of_these = Mention.objects.filter(what__in=NAMED)
    exact = of_these.filter(code__in=spellings(text))
    chosen = exact if exact.exists() else of_these.filter(code__iexact=text)
    notes = dict(chosen.order_by("-pk").values_list("record", "what"))
    records = Record.objects.filter(pk__in=list(notes)).order_by("-happened_from", "-pk")[:MOST]
    return [_to_record(record, f"names {notes[record.pk]} {text}") for record in records]


def _beginning(text: str) -> list[pages.Link]:
    records = Record.objects.filter(begins("number", text)).order_by("number")[:MOST]
    vessels = Vessel.objects.filter(begins("code", text)).order_by("code")[:MOST]
    return [_to_record(record) for record in records] + [_to_vessel(vessel) for vessel in vessels]


def _to_record(record: Record, note: str = "") -> pages.Link:
    about = ", ".join(piece for piece in (title_of(record.kind), figures.moment(record.happened_from), note) if piece)
    return pages.Link(record.number, record_address(record), about)


def _to_vessel(vessel: Vessel) -> pages.Link:
    if vessel.kind == VesselKind.CASK:
        return pages.Link(vessel.code, reverse("cask", args=[vessel.code]), "Cask")
    about = vessel.name if vessel.name != vessel.code else vessel.get_kind_display()
    return pages.Link(vessel.code, reverse("vessel_account", kwargs={"code": vessel.code}), about)


def _to_lot(lot: Lot) -> pages.Link:
    about = ", ".join(piece for piece in (f"Lot of {lot.kind}", lot.name) if piece)
    return pages.Link(lot.code, lot_address(lot), about)


def _to_visit_note(note: VisitNote) -> pages.Link:
    about = f"Visit note, {figures.day(note.visited_on, year=True)}"
    return pages.Link(str(note), reverse("visit_note", args=[note.number]), about)


def _to_person(person: Person) -> pages.Link:
    return pages.Link(
        person.shown_name, f"{reverse('movements')}?{urlencode({'person': person.username})}", "what was written"
    )
