"""Two wrote on one record: the page again with what both have written."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from batches.pages.common import record_or_404
from batches.pages.records.shown import RecordAsWritten, moments_written, record_address
from batches.pages.writing import beside, drafted
from batches.pages.writing.entry_page import entry_page
from batches.pages.writing.forms import EntryForm
from batches.sheets.sheet import Moment
from batches.sheets.site import Site
from distillery import figures
from distillery.drafts.keeping import Kept
from distillery.drafts.showing import Drafting


def both_wrote(
    request: HttpRequest,
    written: RecordAsWritten,
    entry: EntryForm,
    moments: Sequence[Moment],
    *,
    seen: int,
    reason: str,
    corrects: bool,
    draft: Drafting,
) -> HttpResponse:
    """Somebody else wrote first: the page again with what both have written."""
    written = record_or_404(written.record.kind, written.record.number)
    both = beside.put_together(written, entry, seen)
    # A draft is shown even so: only there it can be thrown away.
    if both.adds_nothing and draft.kept is None:
        latest = written.latest
        messages.info(
            request,
            f"{latest.person.shown_name} wrote on {written.record.number} at {figures.moment(latest.written_at)} and "
            "says the same as you do; nothing of yours is left to write.",
        )
        return redirect(record_address(written.record))
    there = moments_written(written)
    # What has gone into the books meanwhile is changed by a correction with its reason, from the same page.
    corrects = corrects or any(moment in there for moment in moments)
    if corrects:
        moments = [one for one in written.sheet.moments if one in moments or one in there]
    entry = anew(written, moments, both.values, both.rows, draft.kept)
    entry.refuse(both.shown.sentence, "#meanwhile" if both.shown.differences else "")
    return entry_page(
        request,
        written.sheet,
        entry,
        f"Correct {written.record.number}" if corrects else f"{written.sheet.title} {written.record.number}",
        written=written,
        seen=written.latest.serial,
        beside=both.shown,
        reason=reason,
        asks_reason=corrects,
        action=record_address(written.record, "record_correct" if corrects else "record_add"),
        drafting=draft,
        token=drafted.token_of(draft),
    )


def anew(
    written: RecordAsWritten,
    moments: Sequence[Moment],
    values: Mapping[str, str],
    rows: Sequence[Mapping[str, str]],
    kept: Kept | None = None,
) -> EntryForm:
    return EntryForm(written.sheet, Site(), moments=moments, initial=values, rows=rows, kept=kept)
