"""The find box: a number or a scanned code leads to its page; several that fit make a list."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from batches.models import Mention, Record
from batches.pages.records.shown import record_address, title_of
from distillery import figures, pages
from distillery.plant.models import Kind as VesselKind
from distillery.plant.models import Vessel
from ledger.enquiries.models import Enquiry
from ledger.enquiries.standing import standings
from ledger.views.enquiries.parts import enquiry_link

MOST = 50
# No number, code or lot is longer; a longer text was put here by mistake.
LONGEST = 120


def find(request: HttpRequest) -> HttpResponse:
    """Records, vessels, casks, lots and enquiries by their number; the whole number first, then how it begins."""
    text = request.GET.get("q", "").strip()
    if len(text) > LONGEST:
        return render(request, "batches/find.html", {"area": "", "find": "", "too_long": len(text), "most": LONGEST})
    found = (_whole(text) or _beginning(text)) if text else []
    if len(found) == 1:
        return redirect(found[0].href)
    return render(request, "batches/find.html", {"area": "", "find": text, "found": found, "most": MOST})


def _whole(text: str) -> list[pages.Link]:
    spellings = {text, text.upper(), text.lower()}
    links = [_to_record(record) for record in Record.objects.filter(number__in=spellings)]
    links += [_to_vessel(vessel) for vessel in Vessel.objects.filter(code__in=spellings)]
    links += [enquiry_link(one) for one in standings(Enquiry.objects.filter(number__in=spellings))]
    if links:
        return links
    lots = Mention.objects.filter(what=Mention.What.LOT, code__in=spellings).values("record")
    named = Record.objects.filter(pk__in=lots).order_by("-happened_from", "-pk")[:MOST]
    return [_to_record(record, f"names lot {text}") for record in named]


def _beginning(text: str) -> list[pages.Link]:
    records = Record.objects.filter(number__istartswith=text).order_by("number")[:MOST]
    vessels = Vessel.objects.filter(code__istartswith=text).order_by("code")[:MOST]
    return [_to_record(record) for record in records] + [_to_vessel(vessel) for vessel in vessels]


def _to_record(record: Record, note: str = "") -> pages.Link:
    about = ", ".join(piece for piece in (title_of(record.kind), figures.moment(record.happened_from), note) if piece)
    return pages.Link(record.number, record_address(record), about)


def _to_vessel(vessel: Vessel) -> pages.Link:
    if vessel.kind == VesselKind.CASK:
        return pages.Link(vessel.code, reverse("cask", args=[vessel.code]), "Cask")
    about = vessel.name if vessel.name != vessel.code else vessel.get_kind_display()
    return pages.Link(vessel.code, reverse("vessel_account", kwargs={"code": vessel.code}), about)
