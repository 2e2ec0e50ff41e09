"""The whole of a batch, on the page and on paper."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone

from batches.models import State
from batches.pages.common import record_or_404, signed_on
from batches.pages.papers.batch import Batch, batch_of, has_batch
from batches.pages.papers.batch_lists import lists_of
from batches.pages.papers.batch_print import batch_pdf, facts_of, others_of
from batches.pages.records.readings import readings_chart, readings_of
from batches.pages.records.shown import RecordAsWritten, record_address
from distillery import pages
from distillery.lists.showing import first_file, listed


@dataclass(frozen=True, slots=True)
class ShownRecord:
    """A record of the batch on its page: its sections, and its readings drawn."""

    number: str
    title: str
    href: str
    parts: list[tuple[str, list[pages.Fact]]]
    chart: str


def batch(request: HttpRequest, kind: str, number: str) -> HttpResponseBase:
    """From malt to where it went, on one page."""
    found = _found(kind, number)
    lists = [listed(request, table, rows, prefix=table.name) for table, rows in lists_of(found)]
    if (file := first_file(*lists)) is not None:
        return file
    record = found.begun.record
    return render(
        request,
        "batches/batch.html",
        {
            "area": "records",
            "density": "paper",
            "record": record,
            "facts": facts_of(found),
            "others": others_of(found),
            "records": [_shown(one) for one in (found.begun, *found.worked)],
            "lists": [one.table for one in lists],
            "pdf": record_address(record, "batch_pdf"),
        },
    )


def batch_print(request: HttpRequest, kind: str, number: str) -> HttpResponse:
    """The same on paper."""
    found = _found(kind, number)
    printed = batch_pdf(found, printed_at=timezone.now(), printed_by=signed_on(request).shown_name)
    answer = HttpResponse(printed, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="batch-{found.begun.record.pk}.pdf"'
    return answer


def _found(kind: str, number: str) -> Batch:
    begun = record_or_404(kind, number)
    if begun.record.state == State.VOID:
        raise Http404(f"{begun.record.number} is void, so no batch follows from it; open one that stands.")
    if not has_batch(begun.record, begun.sheet):
        raise Http404(f"{begun.record.number} is no batch; open a lot of malt, a mash or a bottling.")
    return batch_of(begun)


def _shown(written: RecordAsWritten) -> ShownRecord:
    readings = readings_of(written) if written.sheet.readings else []
    chart = readings_chart(written, readings) if readings else ""
    parts = [(one.heading, facts) for one in written.sheet.sections if (facts := written.facts_of(one))]
    record = written.record
    return ShownRecord(record.number, written.sheet.title, record_address(record), parts, str(chart))
