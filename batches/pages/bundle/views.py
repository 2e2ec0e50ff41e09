"""Asking for a bundle: which months and parts, and then the page of the long work that makes it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import chain
from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from batches.pages.bundle.chosen import EVERY, NAMES
from batches.pages.bundle.long_work import ask_for_bundle
from batches.pages.bundle.months import NoSuchMonths, months_of
from batches.pages.bundle.parts import Parts
from batches.pages.bundle.words import how_to_read
from batches.pages.common import signed_on
from batches.returns.months import Span, return_months
from distillery.clock.reading import books_today
from distillery.jobs.starting import start
from distillery.people.roles import ADMINISTRATOR, MANAGER, OFFICER, needs
from distillery.printing.document import print_document
from distillery.printing.house import impression
from ledger.views.ways import books_places

READERS = frozenset({MANAGER, OFFICER, ADMINISTRATOR})


class MonthsForm(forms.Form):
    """From which month to which, and what of them."""

    def __init__(self, data: Any, known: Sequence[Span], chosen: str) -> None:
        super().__init__(data)
        months = [(one.code, one.name) for one in known]
        for name, label in (("first", "First month"), ("last", "Last month")):
            self.fields[name] = forms.ChoiceField(label=label, choices=months, initial=chosen)
        self.fields["parts"] = forms.MultipleChoiceField(
            label="Parts",
            choices=[(group.value, name) for group, name in NAMES.items()],
            initial=list(EVERY),
            required=False,
            widget=forms.CheckboxSelectMultiple,
            help_text="Take the tick away from what is not asked for. With no tick at all it is the whole bundle.",
        )


@needs(READERS)
def officer_bundle(request: HttpRequest) -> HttpResponse:
    """Which months the books know, the newest that is over chosen; asked for, it is long work."""
    today = books_today()
    known = return_months(today)
    newest = next((one.code for one in known if one.last_day < today), known[0].code if known else "")
    form = MonthsForm(request.POST if request.method == "POST" else None, known, newest)
    if form.is_valid():
        try:
            months = months_of(**form.cleaned_data)
        except NoSuchMonths as refused:
            form.add_error("last", str(refused))
        else:
            job = ask_for_bundle(months, signed_on(request))
            start()
            return redirect("job", job.pk)
    return render(
        request,
        "batches/officer_bundle.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("officer_bundle"),
            "form": form,
            "any": bool(known),
        },
    )


@needs(READERS)
def officer_bundle_part(request: HttpRequest) -> HttpResponse:
    """One document of a bundle by itself: `first` and `last` month, `document` and `number` as at its head."""
    try:
        months = months_of(request.GET.get("first", ""), request.GET.get("last", ""))
    except NoSuchMonths as unknown:
        raise Http404(str(unknown)) from unknown
    wanted = request.GET.get("document", ""), request.GET.get("number", "")
    printing = impression(timezone.now(), signed_on(request).shown_name)
    # Words alone, and no part of any month.
    reading = how_to_read(months, printing)
    parts = (part for _, part in Parts(months, printing).made())
    for part in chain((reading,), parts):
        if (part.furniture.title, part.furniture.number) == wanted:
            answer = HttpResponse(print_document([replace(part, bookmarks=())]), content_type="application/pdf")
            answer["Content-Disposition"] = 'inline; filename="document.pdf"'
            return answer
    raise Http404(f"The records of these months have no document '{' '.join(wanted)}'.")
