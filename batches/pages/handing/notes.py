"""Notes of the shift: the list with its box, and the striking of one."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from batches.handover.models import Note
from batches.handover.noting import notes, strike_note, write_note
from batches.pages.common import signed_on
from batches.pages.handing.forms import NoteForm, StrikeNoteForm
from batches.pages.handing.lists import ByPersonAndDay, NoteTable, NoteTableToStrike
from batches.records.recording import Busy
from batches.sheets.read_sheet import Unfit
from distillery import figures
from distillery.drafts import showing as drafts
from distillery.lists.showing import listed
from distillery.people.roles import WRITERS, may_write, needs

# What a note is called while it is a draft.
NOTE = "Note of the shift"


def note_list(request: HttpRequest) -> HttpResponseBase:
    """All notes, and the box for the next one. A note that was written leads back to This shift."""
    writes = may_write(signed_on(request))
    form = NoteForm(request.POST if request.method == "POST" and writes else None)
    if form.is_bound:
        try:
            write_note(form.text("text"), person=signed_on(request))
        except (Unfit, Busy) as error:
            form.mark(error)
        else:
            drafts.saved(request)
            messages.success(request, f"Noted {figures.clock(timezone.now())}.")
            return redirect("shift")
    found = listed(request, NoteTableToStrike if writes else NoteTable, notes(), ByPersonAndDay)
    if found.file is not None:
        return found.file
    shown = {
        "area": "shift",
        "notes": found.table,
        "form": form if writes else None,
        "drafting": drafts.of_page(request, form, NOTE) if writes else None,
    }
    return render(request, "handover/notes.html", shown)


@needs(WRITERS)
def note_strike(request: HttpRequest, note: int) -> HttpResponse:
    """Strikes one note, with other words in its place or none."""
    struck = get_object_or_404(Note.objects.select_related("person"), pk=note)
    form = StrikeNoteForm(request.POST if request.method == "POST" else None)
    draft = drafts.of_page(request, form, f"Strike a note of {figures.clock(struck.said_at)}")
    if request.method == "POST":
        try:
            strike_note(struck, person=signed_on(request), reason=form.text("reason"), text=form.text("text"))
        except (Unfit, Busy) as error:
            form.mark(error)
        else:
            drafts.saved(request)
            messages.success(request, f"Struck {figures.clock(timezone.now())}; the note stays to be read.")
            return redirect("notes")
    return render(
        request,
        "batches/reason.html",
        {
            "area": "shift",
            "density": "wet-hands",
            "heading": "Strike a note",
            "explained": f"{figures.moment(struck.said_at)}, {struck.person.shown_name}: {struck.text}",
            "form": form,
            "submit": "Strike note",
            "cancel": reverse("notes"),
            "drafting": draft,
        },
    )
