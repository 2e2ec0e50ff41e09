"""Visit notes: the list with the officer's form over it, one note, the form that puts it right, and one on paper."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from batches.pages.common import signed_on
from batches.pages.visits.forms import VisitNoteForm
from batches.pages.visits.lists import VisitNotesByDay, VisitNoteTable
from batches.pages.visits.printed import visit_note_pdf
from batches.records.recording import Busy
from batches.sheets.typed.read_sheet import Unfit
from batches.visits.models import VisitNote
from batches.visits.noting import visit_notes, write_visit_note
from distillery import figures
from distillery.clock.reading import books_today
from distillery.lists.showing import listed
from distillery.pages import Fact
from distillery.people.roles import OFFICER, is_officer, needs
from distillery.printing.furniture import grouped


def visit_note_list(request: HttpRequest) -> HttpResponseBase:
    """All notes, and for an officer the form of the next one."""
    writes = is_officer(signed_on(request))
    form = VisitNoteForm(request.POST if request.method == "POST" and writes else None, day=books_today())
    if form.is_bound and (written := _written(request, form)):
        messages.success(request, f"Visit note {written} is written; another note can put it right.")
        return redirect("visit_notes")
    found = listed(request, VisitNoteTable, visit_notes(), VisitNotesByDay)
    if found.file is not None:
        return found.file
    context = {"area": "records", "notes": found.table, "form": form if writes else None}
    return render(request, "visits/notes.html", context)


@require_safe
def visit_note(request: HttpRequest, number: int) -> HttpResponse:
    """One note with the note that it puts right, and the one that puts it right."""
    note = _note_or_404(number)
    later = getattr(note, "put_right_by", None)
    facts = [
        Fact("Day of the visit", figures.day(note.visited_on, year=True)),
        Fact("By", note.person.shown_name),
        Fact("Digest, first 16 figures", grouped(note.digest)),
    ]
    for label, other in (("Puts right", note.corrects), ("Put right by", later)):
        if other is not None:
            facts.append(Fact(label, str(other), href=reverse("visit_note", args=[other.number])))
    context = {
        "area": "records",
        "note": note,
        "facts": facts,
        "may_put_right": later is None and is_officer(signed_on(request)),
    }
    return render(request, "visits/note.html", context)


@needs(frozenset({OFFICER}))
def visit_note_put_right(request: HttpRequest, number: int) -> HttpResponse:
    """The form of a note that puts another right; what was noted first stays to be read."""
    note = _note_or_404(number)
    form = VisitNoteForm(request.POST if request.method == "POST" else None, day=note.visited_on)
    if form.is_bound and (written := _written(request, form, note)):
        messages.success(request, f"Visit note {written} is written and puts right {note}, which stays to be read.")
        return redirect("visit_notes")
    context = {"area": "records", "note": note, "form": form, "cancel": reverse("visit_note", args=[number])}
    return render(request, "visits/put_right.html", context)


@require_safe
def visit_note_print(request: HttpRequest, number: int) -> HttpResponse:
    """One note on paper."""
    note = _note_or_404(number)
    printed = visit_note_pdf(note, printed_at=timezone.now(), printed_by=signed_on(request).shown_name)
    response = HttpResponse(printed, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{note}.pdf"'
    return response


def _written(request: HttpRequest, form: VisitNoteForm, corrects: VisitNote | None = None) -> VisitNote | None:
    """The note as it was written; None where something is to be put right in the form first."""
    if not form.is_valid():
        return None
    given = form.cleaned_data
    try:
        return write_visit_note(
            given["text"], visited_on=given["visited_on"], person=signed_on(request), corrects=corrects
        )
    except (Unfit, Busy) as refused:
        form.mark(refused)
        return None


def _note_or_404(number: int) -> VisitNote:
    return get_object_or_404(visit_notes(), number=number)
