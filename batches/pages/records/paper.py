"""Records and blank sheets as PDF, for anyone who has signed on."""

from __future__ import annotations

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseBadRequest
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from batches.pages.common import record_or_404, sheet_or_404, signed_on
from batches.pages.records import blank_sheets, printed
from batches.steps import STEPS

MOST_SHEETS = 50


def record_pdf(request: HttpRequest, kind: str, number: str) -> HttpResponse:
    """The printed record."""
    written = record_or_404(kind, number)
    pdf = printed.record_pdf(written, printed_at=timezone.now(), printed_by=signed_on(request).shown_name)
    return _shown(pdf, written.record.number)


def blank_sheets_asked(request: HttpRequest) -> HttpResponse:
    """The way from the boxes of the records' page to the sheets they ask for; back to it where they ask for none."""
    kind = request.GET.get("kind", "")
    if kind not in {sheet.kind for sheet in STEPS}:
        return redirect("records")
    asked = {name: value for name in ("copies", "part") if (value := request.GET.get(name, ""))}
    return redirect(f"{reverse('blank_sheet_pdf', args=[kind])}?{urlencode(asked)}")


def blank_sheet_pdf(request: HttpRequest, kind: str) -> HttpResponse:
    """Blank sheets of a step; `?copies=5` for several, each with a number of its own; `?part=lines` for its
    casks, vessels or readings."""
    sheet = sheet_or_404(kind)
    asked = request.GET.get("copies", "1")
    if not (asked.isascii() and asked.isdigit() and 1 <= int(asked) <= MOST_SHEETS):
        return HttpResponseBadRequest(f"Copies is '{asked}'; print 1 to {MOST_SHEETS} at a time.", "text/plain")
    now = timezone.localtime()
    serials = [f"{sheet.prefix}-{now:%Y%m%d-%H%M%S}-{number}" for number in range(1, int(asked) + 1)]
    lines = request.GET.get("part") == "lines" and blank_sheets.has_lines(sheet)
    draw = blank_sheets.blank_lines_pdf if lines else blank_sheets.blank_sheet_pdf
    pdf = draw(sheet, serials, printed_at=now, printed_by=signed_on(request).shown_name)
    return _shown(pdf, f"{sheet.title}, blank")


def _shown(pdf: bytes, name: str) -> HttpResponse:
    safe = "".join(letter if letter.isascii() and (letter.isalnum() or letter in "-. ") else "_" for letter in name)
    answer = HttpResponse(pdf, "application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{safe}.pdf"'
    return answer
