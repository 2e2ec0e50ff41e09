"""Forms of the site page: a duty rate, a rounding of the law, what packages and sizes of bottle are held to, each with
the day it starts and its source.

A day whose month is closed is refused, with what to do instead.
"""

from __future__ import annotations

from decimal import Decimal
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
from distillery.rules.setting_packaged import Band, set_nominal_quantities, set_package_errors
from distillery.typed import NotAFigure, figure

KEPT = "Earlier figures stay as they are and hold for the days before. The law and the officer decide."


class FigureForm(PlantForm):
    """A form whose figure is kept by `distillery.rules.setting`; its sentence stands beside the box it refuses."""

    kept = KEPT

    reason = Words("Why", required=False, help_text="In a few words; it is kept with your name and the time.")

    def keep(self, person: Person) -> str:
        try:
            return self.enter(person)
        except Unsettable as refused:
            self.add_error(refused.field if refused.field in self.fields else None, refused.sentence)
        return ""


class RateForm(FigureForm):
    """A rate or a rounding: entered ahead of its day, and never edited afterwards."""

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


class PackageErrorForm(FigureForm):
    """Tolerable negative errors of packages, the whole table of a day."""

    title = "Enter what may be missing of one package"
    lead = (
        "The whole table as it is enacted, from one day on: what may be missing of one package by its nominal "
        "quantity. The packers' rules of a bottling are checked by the table of its day."
    )
    submit = "Save table"
    field_order = ("from_day", "bands", "source")

    from_day = Day("In force from")
    bands = forms.CharField(
        label="Bands",
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 10, "cols": 32, "autocomplete": "off", "spellcheck": "false"}),
        help_text="A line for each: from and to in mL, then what may be missing with % or mL. Such as 200 300 9 mL; "
        "the last one ends with -, which is without end: 15000 - 1 %.",
        error_messages={"required": "Write at least one band with what may be missing."},
    )
    source = Words("Source", help_text="Law or notice, with its date.")

    def clean_bands(self) -> list[Band]:
        """Each line as a band."""
        return [_band(line) for line in self.cleaned_data["bands"].splitlines() if line.strip()]

    def enter(self, person: Person) -> str:
        row = set_package_errors(**self.cleaned_data, person=person)
        return f"Table entered; it holds from {figures.day(row.from_day, year=True)}."


class BottleSizesForm(FigureForm):
    """Sizes of bottle in which spirits may be sold, all that hold from a day."""

    title = "Enter sizes of bottle for spirits"
    lead = "All sizes that may be sold from one day on. Between two quantities only these; below and above any size."
    submit = "Save sizes"
    field_order = ("from_day", "sizes", "listed_from_ml", "listed_to_ml", "source")

    from_day = Day("In force from")
    sizes = Words("Sizes that may be sold", help_text="mL, with blanks between them, such as 350 500 700.")
    listed_from_ml = Figure("Listed sizes alone from", "mL")
    listed_to_ml = Figure("Listed sizes alone to", "mL")
    source = Words("Source", help_text="Law or notice, with its date.")

    def clean_sizes(self) -> list[Decimal]:
        """The sizes one by one, mL."""
        return [_figure(one) for one in self.cleaned_data["sizes"].replace(";", " ").split()]

    def enter(self, person: Person) -> str:
        row = set_nominal_quantities(**self.cleaned_data, person=person)
        return f"Sizes entered; they hold from {figures.day(row.from_day, year=True)}."


def _band(line: str) -> Band:
    words = line.replace("%", " % ").split()
    if len(words) != 4 or words[3].casefold() not in ("%", "ml"):
        said = f"'{line.strip()}' is no band: write from, to and what may be missing, such as 200 300 9 mL."
        raise forms.ValidationError(said)
    low, high, error = (None if word == "-" else _figure(word) for word in words[:3])
    if low is None or error is None:
        raise forms.ValidationError(f"'{line.strip()}' lacks a figure: only the end of a band may be -.")
    return Band(low, high, error if words[3] == "%" else None, None if words[3] == "%" else error)


def _figure(text: str) -> Decimal:
    try:
        return figure(text)
    except NotAFigure as refused:
        raise forms.ValidationError(f"{text}: {refused}") from refused


ENTRIES: dict[str, type[FigureForm]] = {
    "duty_rate_new": DutyRateForm,
    "rounding_rule_new": RoundingForm,
    "package_errors_new": PackageErrorForm,
    "bottle_sizes_new": BottleSizesForm,
}


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
