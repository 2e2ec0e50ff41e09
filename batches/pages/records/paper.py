"""Records as PDF, for anyone who has signed on."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from batches.pages.common import record_or_404, signed_on
from batches.pages.records import printed

MOST_SHEETS = 50


def record_pdf(request: HttpRequest, kind: str, number: str) -> HttpResponse:
    """The printed record."""
    written = record_or_404(kind, number)
    pdf = printed.record_pdf(written, printed_at=timezone.now(), printed_by=signed_on(request).shown_name)
    return _shown(pdf, written.record.number)


def _shown(pdf: bytes, name: str) -> HttpResponse:
    safe = "".join(letter if letter.isascii() and (letter.isalnum() or letter in "-. ") else "_" for letter in name)
    answer = HttpResponse(pdf, "application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{safe}.pdf"'
    return answer
