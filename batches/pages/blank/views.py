"""Blank sheets: printed with serials from their register, listed with what came of them, and taken back."""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBadRequest, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from batches.pages.blank.lists import ByReturn, IssuedTable, IssuedTableToKeyIn
from batches.pages.common import sheet_or_404, signed_on
from batches.pages.records import blank_sheets
from batches.sheets.sheet import Sheet
from batches.steps import STEPS
from distillery.lists.showing import listed
from distillery.people.roles import WRITERS, may_write, needs
from distillery.prints.issuing import NoSuchSheet, NotReturned, issue, take_back
from distillery.prints.models import IssuedSheet, SheetReturned

MOST_SHEETS = 50
SPECIMEN = "Specimen"


def blank_sheets_asked(request: HttpRequest) -> HttpResponseBase:
    """The sheets that the boxes of the records' page ask for: sent, they are issued with serials of their own; looked
    at, they are specimens. Back to the page where they ask for none."""
    asked = request.POST if request.method == "POST" else request.GET
    kind = asked.get("kind", "")
    if kind not in {sheet.kind for sheet in STEPS}:
        return redirect("records")
    if request.method == "POST":
        return blank_sheets_issue(request, kind)
    said = {name: value for name in ("copies", "part") if (value := asked.get(name, ""))}
    return redirect(f"{reverse('blank_sheet_pdf', args=[kind])}?{urlencode(said)}")


@needs(WRITERS)
def blank_sheets_issue(request: HttpRequest, kind: str) -> HttpResponse:
    """Issues blank sheets: `copies` of them, of its lines where `part` says so, to whom `issued_to` names."""
    sheet = sheet_or_404(kind)
    copies = _copies(request.POST.get("copies") or "1")
    if copies is None:
        return _too_many(request.POST.get("copies", ""))
    lines = _of_lines(sheet, request.POST.get("part", ""))
    person = signed_on(request)
    title = sheet.printed_title or sheet.title
    issued = issue(sheet.kind, title, copies, to=request.POST.get("issued_to", ""), lines=lines, person=person)
    return _printed(sheet, issued, [str(one) for one in issued], lines=lines, printed_by=person.shown_name)


def blank_sheet_pdf(request: HttpRequest, kind: str) -> HttpResponse:
    """Specimens of the blank sheets of a step, not issued; `?copies=5` for several, `?part=lines` for its casks,
    vessels or readings."""
    sheet = sheet_or_404(kind)
    copies = _copies(request.GET.get("copies", "1"))
    if copies is None:
        return _too_many(request.GET.get("copies", ""))
    specimens = [f"{SPECIMEN} {number}" for number in range(1, copies + 1)]
    lines = _of_lines(sheet, request.GET.get("part", ""))
    return _printed(sheet, [], specimens, lines=lines, printed_by=signed_on(request).shown_name)


def _copies(asked: str) -> int | None:
    asked = asked.strip()
    return int(asked) if asked.isascii() and asked.isdigit() and 1 <= int(asked) <= MOST_SHEETS else None


def _too_many(asked: str) -> HttpResponse:
    return HttpResponseBadRequest(f"Copies is '{asked}'; print 1 to {MOST_SHEETS} at a time.", "text/plain")


def _of_lines(sheet: Sheet, part: str) -> bool:
    return part == "lines" and blank_sheets.has_lines(sheet)


def _printed(
    sheet: Sheet, issued: list[IssuedSheet], serials: list[str], *, lines: bool, printed_by: str
) -> HttpResponse:
    draw = blank_sheets.blank_lines_pdf if lines else blank_sheets.blank_sheet_pdf
    holder = issued[0].issued_to if issued else ""
    pdf = draw(sheet, serials, printed_at=timezone.localtime(), printed_by=printed_by, issued_to=holder)
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{sheet.kind}-{serials[0].replace(" ", "-").lower()}.pdf"'
    return answer


def blank_sheets_issued(request: HttpRequest) -> HttpResponseBase:
    """Every blank sheet that was issued, and the box for one that came back."""
    writes = may_write(signed_on(request))
    rows = IssuedSheet.objects.select_related("by", "returned")
    found = listed(request, IssuedTableToKeyIn if writes else IssuedTable, rows, ByReturn)
    if found.file is not None:
        return found.file
    shown = {"area": "records", "issued": found.table, "writes": writes, "whats": SheetReturned.What.choices}
    return render(request, "batches/blank_sheets.html", shown)


@require_POST
@needs(WRITERS)
def blank_sheet_returned(request: HttpRequest) -> HttpResponse:
    """Notes what came of one sheet."""
    typed = request.POST.get("serial", "")
    try:
        back = take_back(typed, request.POST.get("what", ""), person=signed_on(request))
    except (NoSuchSheet, NotReturned) as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, f"{back.sheet} taken back: {back.get_what_display().lower()}.")
    return redirect("blank_sheets_issued")
