"""Forms of the site page: a duty rate and a rounding of the law, entered with the day they start and their source.

A day whose month is closed is refused, with what to do instead.
"""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from batches.pages.common import signed_on
from distillery import figures
from distillery.alcoholometry.rounding import DUTY_MONEY, DUTY_STRENGTH, RETURN_LITRES, RETURN_LPA, WAYS
from distillery.people.models import Person
from distillery.people.roles import PLANT_KEEPERS, needs
from distillery.plant.forms.boxes import Day, Figure, PlantForm, Words
from distillery.rules import setting
from distillery.rules.returned import ReturnedUpon
from distillery.rules.setting import Unsettable

KEPT = "Earlier figures stay as they are and hold for the days before. The law and the officer decide."


class FigureForm(PlantForm):
    """A form whose figure is kept by `distillery.rules.setting`; its sentence stands beside the box it refuses."""

    kept = KEPT

    def keep(self, person: Person) -> str:
        try:
            return self.enter(person)
        except Unsettable as refused:
            self.add_error(refused.field if refused.field in self.fields else None, refused.sentence)
        return ""


class RateForm(FigureForm):
    """A rate or a rounding: entered ahead of its day with who, when and why, and never edited afterwards."""

    reason = Words("Why", required=False, help_text="In a few words; it is kept with your name and the time.")
    # Asked once it is refused for a closed month on which none was known.
    owed_later = forms.BooleanField(
        label="It held in the closed month: what is owed for that goes on the next return as under-declared",
        required=False,
    )

    def __init__(self, data: Any = None) -> None:
        super().__init__(data)
        self._owed = self.fields["owed_later"]
        if not self.data.get("owed_later"):
            del self.fields["owed_later"]

    def keep(self, person: Person) -> str:
        try:
            return self.enter(person)
        except Unsettable as refused:
            if isinstance(refused, ReturnedUpon) and refused.may_be_owed:
                self.fields["owed_later"] = self._owed
            self.add_error(refused.field if refused.field in self.fields else None, refused.sentence)
        return ""


class DutyRateForm(RateForm):
    """A duty rate of a band of strengths."""

    title = "Enter a duty rate"
    lead = (
        "One rate of one band of strengths. A removal whose duty was not known is worked out as soon as its rate is "
        "here. Enter it as soon as it is announced, ahead of its day; it is never edited afterwards."
    )
    submit = "Save duty rate"
    field_order = (
        "from_day",
        "to_day",
        "strength_from_percent",
        "strength_to_percent",
        "pounds_per_lpa",
        "tax_type",
        "source",
    )

    from_day = Day("In force from")
    to_day = Day("Known to", required=False, help_text="The last day, where one is announced; blank if none is.")
    strength_from_percent = Figure("Strength from", "% vol")
    strength_to_percent = Figure("Strength to", "% vol", help_text="Both ends belong to the band; one decimal.")
    pounds_per_lpa = Figure("Rate", "£ per LPA")
    tax_type = Words("Tax type", longest=10, required=False)
    source = Words("Source", help_text="Law, notice or rates page, with its date.")

    def enter(self, person: Person) -> str:
        given: dict[str, Any] = self.cleaned_data
        row = setting.set_duty_rate(**given, person=person)
        return f"Duty rate entered; it holds from {figures.day(row.from_day, year=True)}."


class RoundingForm(RateForm):
    """How an official figure is rounded."""

    title = "Enter a rounding of the law"
    lead = (
        "The roundings known here begin on 1 August 2023. For a removal before that day enter those of the law then: "
        f"{DUTY_STRENGTH.name}, {RETURN_LPA.name} and {DUTY_MONEY.name}."
    )
    submit = "Save rounding"
    field_order = ("name", "from_day", "step", "way", "source")

    name = forms.ChoiceField(
        label="Figure",
        choices=[
            (rule.name, f"{rule.name[0].upper()}{rule.name[1:]}, {rule.unit}")
            for rule in (DUTY_STRENGTH, RETURN_LPA, RETURN_LITRES, DUTY_MONEY)
        ],
    )
    from_day = Day("In force from")
    step = Figure("To whole steps of", help_text="In the unit of the figure: 0.1 for one decimal.")
    way = forms.ChoiceField(label="Rounded", choices=[(way, way.replace("_", " ")) for way in WAYS])
    source = Words("Source", help_text="Law or notice, with its date.")

    def enter(self, person: Person) -> str:
        given: dict[str, Any] = self.cleaned_data
        row = setting.set_rounding_rule(**given, person=person)
        return f"Rounding entered; it holds from {figures.day(row.from_day, year=True)}."


ENTRIES: dict[str, type[FigureForm]] = {"duty_rate_new": DutyRateForm, "rounding_rule_new": RoundingForm}


@needs(PLANT_KEEPERS)
def enter(request: HttpRequest, name: str) -> HttpResponse:
    """One of the forms: shown, or what was typed in it entered."""
    kind = ENTRIES[name]
    form = kind(request.POST) if request.method == "POST" else kind()
    if form.is_bound and form.is_valid():
        said = form.keep(signed_on(request))
        if said:
            messages.success(request, said)
            return redirect("site")
    return render(request, "batches/site_entry.html", {"area": "site", "form": form, "cancel": reverse("site")})
