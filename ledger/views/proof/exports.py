"""The whole ledger as a download, for whoever has to check it without this program."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.shortcuts import render

from distillery.pages import Fact
from distillery.people.roles import ADMINISTRATOR, MANAGER, OFFICER, needs
from ledger.proof.exporting import Export
from ledger.views.ways import books_places

READERS = frozenset({MANAGER, OFFICER, ADMINISTRATOR})


@needs(READERS)
def export_page(request: HttpRequest) -> HttpResponse:
    """What an export would hold now."""
    ready = Export()
    facts = [
        Fact("Movements", f"{ready.head.last_number:,}"),
        Fact("Seal of the last", ready.head.last_seal if ready.head.last_number else "None yet"),
    ]
    return render(
        request,
        "ledger/export.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("export"),
            "facts": facts,
            "any": bool(ready.head.last_number),
        },
    )


@needs(READERS)
def export_zip(request: HttpRequest) -> HttpResponseBase:
    """The files of an export in one archive, sent as they are written."""
    ready = Export()
    answer = StreamingHttpResponse(ready.zipped(), "application/zip")
    answer["Content-Disposition"] = f'attachment; filename="{ready.name}.zip"'
    return answer
