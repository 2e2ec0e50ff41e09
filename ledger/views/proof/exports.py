"""The whole ledger as a download, for whoever has to check it without this program."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.shortcuts import redirect, render

from distillery.jobs.starting import start
from distillery.pages import Fact
from distillery.people.models import Person
from distillery.people.roles import ADMINISTRATOR, MANAGER, OFFICER, needs
from ledger.long_work import ask_for_export
from ledger.proof.exporting import Export
from ledger.views.ways import books_places

READERS = frozenset({MANAGER, OFFICER, ADMINISTRATOR})
# Movements that are exported in some two seconds; more are long work.
MOST_AT_ONCE = 5000


@needs(READERS)
def export_page(request: HttpRequest) -> HttpResponse:
    """What an export would hold now; of large books it is asked for here."""
    ready = Export()
    if request.method == "POST" and ready.head.last_number:
        assert isinstance(request.user, Person)
        job = ask_for_export(request.user)
        start()
        return redirect("job", job.pk)
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
            "is_large": is_large(ready),
        },
    )


@needs(READERS)
def export_zip(request: HttpRequest) -> HttpResponseBase:
    """The files of an export in one archive, sent as they are written; of large books the page that makes it."""
    ready = Export()
    if is_large(ready):
        return redirect("export")
    answer = StreamingHttpResponse(ready.zipped(), "application/zip")
    answer["Content-Disposition"] = f'attachment; filename="{ready.name}.zip"'
    return answer


def is_large(ready: Export) -> bool:
    """True where an export takes longer than an answer should."""
    return ready.head.last_number > MOST_AT_ONCE
