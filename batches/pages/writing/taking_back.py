"""Taking back what was written: a reading struck out, a record made void. What was written stays to be read."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from batches.models import Reading, State
from batches.pages.common import hands_of, record_or_404, signed_on
from batches.pages.records.shown import record_address, unit_of
from batches.pages.writing import questions as asking
from batches.pages.writing.boxes import Typed
from batches.pages.writing.entry_page import problems_of, saved_already
from batches.pages.writing.forms import SentOnce
from batches.records import recording
from batches.records.readings import strike_reading
from batches.records.recording import AlreadySaved, Asked, Busy
from batches.sheets.typed.read_sheet import Unfit
from distillery import figures
from distillery.drafts import showing as drafts
from distillery.people.roles import WRITERS, needs
from ledger.periods.words import carried_in_words
from ledger.posting.drafts import Refused


class ReasonForm(forms.Form):
    """Why; the service says when it is missing."""

    use_required_attribute = False

    def __init__(self, data: Any = None) -> None:
        super().__init__(data=data)
        self.fields["reason"] = Typed(
            label="Why",
            help_text="In a few words; it is kept with your name and the time.",
            unit="",
            width=40,
            widget=forms.TextInput({"autocomplete": "off"}),
        )

    def text(self, name: str) -> str:
        """What was typed in a box."""
        self.full_clean()
        return str(self.cleaned_data.get(name) or "").strip()

    def mark(self, error: Unfit | Refused | Busy) -> None:
        """Puts what is wrong beside its box."""
        for problem in problems_of(error):
            self.add_error(problem.field if problem.field in self.fields else None, problem.sentence)


class StrikeForm(ReasonForm, SentOnce):
    """Why, and what stands in its place, if anything."""

    field_order = ("value", "reason")

    def __init__(self, unit: str, data: Any = None) -> None:
        super().__init__(data)
        self.fields["value"] = Typed(
            label="Right value",
            required=False,
            help_text="Left blank, the reading is struck and nothing stands in its place.",
            unit=unit,
            width=8,
            widget=forms.TextInput({"inputmode": "decimal", "autocomplete": "off"}),
        )
        self.order_fields(self.field_order)
        self.carry_token()


@needs(WRITERS)
def reading_strike(request: HttpRequest, kind: str, number: str, reading: int) -> HttpResponse:
    """Strikes one reading, with another value in its place or none."""
    written = record_or_404(kind, number)
    struck = get_object_or_404(Reading, pk=reading, record=written.record)
    field = written.sheet.reading(struck.quantity)
    posted, sure = asking.answers_in(request.POST if request.method == "POST" else None)
    question: asking.Put | None = None
    form = StrikeForm(unit_of(field) if field else "", posted)
    back = record_address(written.record, "record_reading")
    if request.method == "POST":
        reason, value = form.text("reason"), form.text("value")
        sent = form.sent({"value": value, "reason": reason}, drafts.which_of_page(request))
        try:
            hands = hands_of(request, signs=True)
            strike_reading(
                struck, person=signed_on(request), reason=reason, value=value, sent=sent, sure=sure, hands=hands
            )
        except (Unfit, Busy) as error:
            form.mark(error)
        except AlreadySaved as error:
            if error.same:
                return saved_already(request, error.record, "record_reading")
            form.add_error(None, "This reading was struck from this page already; strike what replaced it.")
        except Asked as asked:
            question = asking.put(asked, sure, {one.field: "value" for one in asked.questions})
        else:
            messages.success(request, f"Struck {figures.clock(timezone.now())}; the old value stays to be read.")
            return redirect(back)
    heading = f"Strike a reading of {written.record.number}"
    what = f"{field.label if field else struck.quantity} {struck.value}"
    return render(
        request,
        "batches/reason.html",
        {
            "area": "shift",
            "density": "wet-hands",
            "heading": heading,
            "drafting": drafts.of_page(request, form, heading),
            "explained": f"{what}, {figures.moment(struck.at)}. It stays to be read with a line through it.",
            "form": form,
            "put": question,
            "submit": "Strike reading",
            "signs": True,
            "cancel": back,
        },
    )


@needs(WRITERS)
def record_void(request: HttpRequest, kind: str, number: str) -> HttpResponse:
    """Takes a record out of the books again; its number and all that stood on it remain."""
    written = record_or_404(kind, number)
    record = written.record
    if record.state == State.VOID:
        messages.info(request, f"{record.number} is void already.")
        return redirect(record_address(record))
    form = ReasonForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        try:
            recording.void(
                record, person=signed_on(request), reason=form.text("reason"), hands=hands_of(request, signs=True)
            )
        except (Unfit, Refused, Busy) as error:
            record.refresh_from_db()
            if record.state == State.VOID:
                messages.info(request, f"{record.number} is void already.")
                return redirect(record_address(record))
            form.mark(error)
        else:
            drafts.saved(request)
            messages.success(request, f"{record.number} is void; all that stood on it can still be read.")
            return redirect(record_address(record))
    heading = f"Make {record.number} void"
    return render(
        request,
        "batches/reason.html",
        {
            "area": "records",
            "heading": heading,
            "drafting": drafts.of_page(request, form, heading),
            "explained": "For a record of something that never happened. Its entries are taken back; its number, "
            "its figures and this reason remain. A wrong figure is put right by Correct instead.",
            "closed_time": carried_in_words(record.happened_from),
            "form": form,
            "submit": "Make void",
            "signs": True,
            "cancel": record_address(record),
        },
    )
