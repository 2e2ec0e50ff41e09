"""Views of the board; what they show is worked out in `batches.board`."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.utils.http import urlencode

from batches.board.reading import Board, board
from batches.pages.board.lists import parts_of
from batches.pages.board.printed import board_pdf
from batches.pages.common import signed_on
from distillery.lists.showing import first_file, listed
from ledger.statements.month import known_periods
from ledger.views.ways import books_places

# No code of a month is longer.
LONGEST = 20


def _asked(request: HttpRequest) -> Board | None:
    return board(request.GET.get("from", "").strip()[:LONGEST], request.GET.get("to", "").strip()[:LONGEST])


def board_page(request: HttpRequest) -> HttpResponseBase:
    """The pictures of a span of months, each with its list."""
    found = _asked(request)
    context = {"area": "books", "density": "paper", "places": books_places("board")}
    if found is None:
        return render(request, "batches/board.html", context)
    parts = parts_of(found)
    lists = [listed(request, part.kind, part.rows, prefix=part.name, **part.more) for part in parts]
    if (file := first_file(*lists)) is not None:
        return file
    return render(
        request,
        "batches/board.html",
        context
        | {
            "span": found.span,
            "months": found.months,
            "known": known_periods(),
            "mashes_since": found.mashes_since,
            "mashes_asked": any(name.startswith("mashes-") for name in request.GET),
            "parts": [(part, one.table) for part, one in zip(parts, lists, strict=True)],
            "query": urlencode({"from": found.span.first, "to": found.span.last}),
        },
    )


def board_print(request: HttpRequest) -> HttpResponse:
    """All of it on paper."""
    found = _asked(request)
    if found is None:
        raise Http404("Nothing has been posted yet, so the board has nothing to show.")
    printed = board_pdf(found, printed_at=timezone.now(), printed_by=signed_on(request).shown_name)
    answer = HttpResponse(printed, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="board-{found.span.first}-{found.span.last}.pdf"'
    return answer
