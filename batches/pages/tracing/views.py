"""The page of a trace, both ways from whatever has a number here; as data; on paper."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from batches.pages.common import signed_on
from batches.pages.tracing.drawn import flow_of
from batches.pages.tracing.lists import AheadTable, BehindTable, NotKnownTable, in_order
from batches.pages.tracing.names import trace_address
from batches.pages.tracing.printed import trace_pdf
from batches.tracing.document import as_document
from batches.tracing.trace import NoSuchReference, Trace, follow_trace, refer
from distillery.labels.scanned import number_or_text
from distillery.lists.showing import first_file, listed

# No number, code or name is longer.
LONGEST = 300


def trace(request: HttpRequest) -> HttpResponseBase:
    """Where a number came from and where it went; without one, a box for it."""
    ref = asked_for(request)
    if not ref:
        return render(request, "batches/trace.html", {"area": "records", "asked": ""})
    try:
        found = follow_trace(refer(ref))
    except NoSuchReference as error:
        shown = {"area": "records", "asked": ref, "nothing": str(error)}
        return render(request, "batches/trace.html", shown, status=404)
    behind = listed(request, BehindTable, in_order(found.back), prefix="behind")
    ahead = listed(request, AheadTable, in_order(found.forward), prefix="ahead")
    unknown = listed(request, NotKnownTable, found.not_known, prefix="not-known")
    if (file := first_file(behind, ahead, unknown)) is not None:
        return file
    address = trace_address(found.start.ref)
    return render(
        request,
        "batches/trace.html",
        {
            "area": "records",
            "asked": found.start.ref,
            "trace": found,
            "flow": flow_of(found, request.GET.getlist("open"), address),
            "behind": behind.table,
            "ahead": ahead.table,
            "unknown": unknown.table if found.not_known else None,
            "json": trace_address(found.start.ref, "trace_json"),
            "pdf": trace_address(found.start.ref, "trace_pdf"),
        },
    )


def trace_json(request: HttpRequest) -> HttpResponse:
    """The same as data, as the command `trace` gives it."""
    found = _found(request)
    return redirect("trace") if found is None else JsonResponse(as_document(found))


def trace_print(request: HttpRequest) -> HttpResponse:
    """The same on paper."""
    found = _found(request)
    if found is None:
        return redirect("trace")
    printed = trace_pdf(found, printed_at=timezone.now(), printed_by=signed_on(request).shown_name)
    response = HttpResponse(printed, content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="trace.pdf"'
    return response


def _found(request: HttpRequest) -> Trace | None:
    """The trace of the number in the address; None where there is no number. Http404 for one that is not here."""
    ref = asked_for(request)
    if not ref:
        return None
    try:
        return follow_trace(refer(ref))
    except NoSuchReference as error:
        raise Http404(str(error)) from error


def asked_for(request: HttpRequest) -> str:
    """The number, code or name in the address."""
    return number_or_text(request.GET.get("ref", "").replace("\x00", ""))[:LONGEST]
