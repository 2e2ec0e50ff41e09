"""The page a record is written on: its boxes, what stands already, what is wrong; and the answer once it is saved."""

from __future__ import annotations

from collections.abc import Sequence

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from batches.models import Record, State
from batches.pages.common import record_or_404
from batches.pages.records.shown import RecordAsWritten, record_address
from batches.pages.writing.beside import Beside
from batches.pages.writing.forms import TOKEN, EntryForm
from batches.records import submit_once as sendings
from batches.records.recording import Busy
from batches.running.runs import is_running
from batches.sheets.read_sheet import Unfit
from batches.sheets.sheet import STANDING_CAUTION, Problem, Sheet
from distillery import figures
from ledger.periods.words import carried_in_words
from ledger.posting.drafts import Refused


def saved_already(request: HttpRequest, record: Record, name: str = "record") -> HttpResponse:
    """The form came a second time: what it wrote is shown, and nothing more was written."""
    messages.info(request, f"{record.number} was saved from this sheet already; nothing was written a second time.")
    return redirect(record_address(record, name))


def saved(request: HttpRequest, record: Record, word: str = "Saved") -> HttpResponse:
    """The record's page after what was typed is kept, with what is unlikely about it; of one that is on, the page it is
    worked from."""
    written = record_or_404(record.kind, record.number)
    messages.success(request, f"{word} {figures.clock(timezone.now())}: {written.sheet.title.lower()} {record.number}.")
    for remark in written.remarks:
        messages.warning(request, f"Unlikely, kept. {remark.label}: {remark.sentence}")
    return redirect(record_address(record, "record_running" if is_running(record) else "record"))


def entry_page(
    request: HttpRequest,
    sheet: Sheet,
    entry: EntryForm,
    heading: str,
    *,
    written: RecordAsWritten | None = None,
    token: str = "",
    beside: Beside | None = None,
    cancel: str = "",
    **more: object,
) -> HttpResponse:
    """The page of a sheet to be written, with what is wrong at its boxes."""
    context: dict[str, object] = {
        "area": "shift",
        "density": "wet-hands",
        "sheet": sheet,
        "entry": entry,
        "heading": heading,
        "written": written,
        "written_sections": _already(written, entry) if written and not more.get("asks_reason") else [],
        "cautions": sheet.cautions,
        "standing_caution": STANDING_CAUTION,
        "closed_time": carried_in_words(written.record.happened_from if written and not left_open(written) else None),
        "errors": entry.errors,
        "token": token or request.POST.get(TOKEN, "") or sendings.new_token(),
        "beside": beside,
        "cancel": record_address(written.record) if written else cancel,
        **more,
    }
    return render(request, "batches/entry.html", context)


def _already(written: RecordAsWritten, entry: EntryForm) -> list[tuple[str, object]]:
    here = set(entry.form.fields)
    shown: list[tuple[str, object]] = []
    for section in written.sheet.sections:
        if not any(field.name in here for field in section.fields) and (facts := written.facts_of(section)):
            shown.append((section.heading, facts))
    return shown


def left_open(written: RecordAsWritten) -> bool:
    """Whether more of a record is still to be written, at a time of its own."""
    return written.record.state == State.OPEN


def problems_of(error: Unfit | Refused | Busy) -> Sequence[Problem]:
    """What is wrong, at the boxes it hangs on."""
    if isinstance(error, Unfit):
        return error.problems
    return [Problem(error.field if isinstance(error, Refused) else "", None, error.sentence)]
