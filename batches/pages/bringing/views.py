"""Bringing a site in from a workbook: choose it, see every problem and every row, then bring it in."""

from __future__ import annotations

import io
from typing import Any, Final

import msgspec
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from batches.first_month import is_over
from batches.loading.workbook import long_work
from batches.loading.workbook.opening import MOST_BYTES
from batches.loading.workbook.report import Report, read_report
from batches.pages.bringing.lists import CountTable, RowFilters, RowTable, TroubleTable
from batches.pages.common import signed_on
from distillery import figures
from distillery.jobs.files import path_of
from distillery.jobs.models import Job, JobState
from distillery.jobs.starting import start
from distillery.lists.exports import WORKBOOK
from distillery.lists.showing import first_file, listed
from distillery.pages import Fact
from distillery.people.roles import MANAGER, needs
from ledger.views.lists.long_work import state_of
from ledger.views.long_work import as_told, how_far

MANAGERS: Final = frozenset({MANAGER})
NOT_CHOSEN: Final = "Choose the workbook that you filled in."
NOT_A_WORKBOOK: Final = "Choose an .xlsx workbook; this is another kind of file. A spreadsheet program can save one."
TOO_LARGE: Final = f"The workbook is larger than {MOST_BYTES // 1_000_000} MB. Bring it in in parts."
_LONGEST_NAME: Final = 80


@needs(MANAGERS)
def bring_in(request: HttpRequest) -> HttpResponseBase:
    """Where a workbook is chosen; one that is sent is looked at as long work."""
    wrong = ""
    if request.method == "POST":
        sent = request.FILES.get("workbook")
        wrong = _wrong(sent)
        if sent is not None and not wrong:
            token, digest = long_work.keep_workbook(sent.chunks())
            name = (sent.name or "workbook.xlsx")[-_LONGEST_NAME:]
            job = long_work.ask_to_try(token, digest, name, by=signed_on(request))
            start()
            return redirect("bring_in_job", job.pk)
    asked = {"area": "site", "wrong": wrong}
    return render(request, "batches/bring_in.html", asked, status=400 if wrong else 200)


@needs(MANAGERS)
@require_safe
def bring_in_template(request: HttpRequest) -> HttpResponseBase:
    """The empty workbook."""
    from batches.loading.workbook.template import FILE_NAME, write_template

    made = io.BytesIO()
    write_template(made)
    made.seek(0)
    return FileResponse(made, as_attachment=True, filename=FILE_NAME, content_type=WORKBOOK)


@needs(MANAGERS)
@require_safe
def bring_in_job(request: HttpRequest, number: int) -> HttpResponseBase:
    """A workbook that is being looked at or brought in, then what came of it."""
    job = _job(number)
    if job.is_open:
        start()
        as_told(job)
    report = _report(job)
    shown: dict[str, Any] = {
        "area": "site",
        "job": job,
        "name": _name(job),
        "state": state_of(job),
        "is_going_on": job.state == JobState.GOING_ON,
        "said": how_far(job),
        "report": report,
        "lists": [],
    }
    if report is not None:
        lists = [
            listed(request, TroubleTable, report.troubles, prefix=TroubleTable.name) if report.troubles else None,
            listed(request, CountTable, report.counts, prefix=CountTable.name) if report.counts else None,
            listed(request, RowTable, report.rows, RowFilters, prefix=RowTable.name) if report.rows else None,
        ]
        there = [one for one in lists if one is not None]
        if (file := first_file(*there)) is not None:
            return file
        shown |= {
            "lists": [one.table for one in there],
            "facts": _facts(report),
            "is_new": not is_over(),
            "may_write": job.kind == long_work.TRIED_CODE and not report.troubles and bool(report.new),
        }
    return render(request, "batches/bring_in_job.html", shown)


@needs(MANAGERS)
@require_POST
def bring_in_write(request: HttpRequest, number: int) -> HttpResponse:
    """Brings a workbook in that was looked at and found in order."""
    job = _job(number)
    report = _report(job)
    if job.kind != long_work.TRIED_CODE or report is None or report.troubles or not report.new:
        return redirect("bring_in_job", job.pk)
    written = long_work.ask_to_write(_asked(job), by=signed_on(request))
    start()
    return redirect("bring_in_job", written.pk)


def _wrong(sent: Any) -> str:
    if sent is None or not sent.size:
        return NOT_CHOSEN
    if sent.size > MOST_BYTES:
        return TOO_LARGE
    first = next(iter(sent.chunks()))[:2]
    sent.seek(0)
    # A zip archive begins so (PKWARE's note on the format, 4.3.7).
    return "" if first == b"PK" else NOT_A_WORKBOOK


def _job(number: int) -> Job:
    job = get_object_or_404(Job.objects.select_related("asked_by"), pk=number)
    if job.kind not in (long_work.TRIED_CODE, long_work.BROUGHT_CODE):
        raise Http404("That job is of no workbook.")
    return job


def _asked(job: Job) -> dict[str, str]:
    asked: dict[str, str] = msgspec.json.decode(job.arguments, type=dict[str, str])
    return asked


def _name(job: Job) -> str:
    return _asked(job).get("name", "")


def _report(job: Job) -> Report | None:
    """What came of it; None while it goes on, and where it is no longer kept."""
    if job.state != JobState.DONE:
        return None
    try:
        return read_report(path_of(job))
    except (OSError, msgspec.DecodeError):
        return None


def _facts(report: Report) -> list[Fact]:
    facts = [
        Fact("Problems", figures.count(len(report.troubles))),
        Fact("New rows", figures.count(report.new)),
        Fact("There already", figures.count(report.there)),
    ]
    if report.opening_ul and not report.troubles:
        facts.append(Fact("Opening stock", figures.lpa(report.opening_ul), unit="LPA"))
    return facts
