"""Who is on shift: the page that says so, and the press that puts somebody on or takes them off."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from distillery.pen.roster import FEWEST_HOURS, MOST_HOURS, NotOnShift, put_on, take_off
from distillery.pen.shift import names
from distillery.pen.trying.taking import person_named
from distillery.people.models import Person
from distillery.people.roles import WRITERS, needs


class OnShiftForm(forms.Form):
    """Who, and for how many hours."""

    name = forms.ChoiceField(label="Who")
    hours = forms.IntegerField(
        label="For",
        initial=8,
        help_text=f"{FEWEST_HOURS} to {MOST_HOURS}.",
        widget=forms.TextInput({"inputmode": "numeric", "autocomplete": "off"}),
        error_messages={"required": "This is blank: fill it in.", "invalid": "Hours are a whole number, such as 8."},
    )
    hours.unit, hours.width = "h", 4  # type: ignore[attr-defined]

    def __init__(self, data: Any = None, *, people: list[tuple[str, str]]) -> None:
        super().__init__(data)
        field = self.fields["name"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = people


@needs(WRITERS)
def on_shift(request: HttpRequest) -> HttpResponse:
    """Names on shift, with a button that takes each off, and a form that puts somebody on."""
    by = request.user
    assert isinstance(by, Person)
    found = names()
    others = [(one.username, one.name) for one in found.others]
    form = OnShiftForm(request.POST if "hours" in request.POST else None, people=others)
    try:
        if request.method == "POST" and "off" in request.POST:
            person = _called(request.POST["off"])
            take_off(person, by=by)
            messages.success(request, f"{person.shown_name} is not on shift now.")
            return redirect("on_shift")
        if request.method == "POST" and form.is_valid():
            person = _called(form.cleaned_data["name"])
            put_on(person, hours=form.cleaned_data["hours"], by=by)
            messages.success(request, f"{person.shown_name} is on shift.")
            return redirect("on_shift")
    except NotOnShift as refused:
        if "hours" in request.POST:
            form.add_error(refused.field if refused.field in form.fields else None, refused.sentence)
        else:
            messages.error(request, refused.sentence)
    return render(
        request,
        "pen/on_shift.html",
        {"area": "shift", "density": "wet-hands", "people": found.on_shift, "form": form, "others": others},
    )


def _called(name: str) -> Person:
    person = person_named(name)
    if person is None:
        raise NotOnShift(f"Nobody signs on as {name[:60]}.", "name")
    return person
