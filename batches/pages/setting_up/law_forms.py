"""The boxes of what the law sets and Site lists: a duty rate, a rounding, what packages and bottles are held to.

A day whose month is closed is refused, with what to do instead.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.db import models

from batches.pages.setting_up.declared import FigureForm, declare_form
from batches.pages.setting_up.forms import plain
from distillery import figures
from distillery.alcoholometry.rounding import DUTY_MONEY, DUTY_STRENGTH, RETURN_LITRES, RETURN_LPA, WAYS
from distillery.people.models import Person
from distillery.plant.forms.boxes import Day, Figure, Words
from distillery.process.bottling import LISTED_ONLY, PERMITTED
from distillery.rules import in_force
from distillery.rules.models import ONE, DutyRate, NominalQuantity, PackageError, RoundingRule
from distillery.rules.returned import ReturnedUpon
from distillery.rules.setting import figures as setting
from distillery.rules.setting.figures import Unsettable
from distillery.rules.setting.packaged import (
    MICROLITRES_A_MILLILITRE,
    Band,
    set_nominal_quantities,
    set_package_errors,
)
from distillery.rules.units import HUNDREDTHS_OF_A_PENNY_A_POUND, MILLIONTHS_A_PERCENT
from distillery.typed.meaning import NotAFigure, figure

KEPT = "Earlier figures stay as they are and hold for the days before. The law and the officer decide."


class UndatedForm(FigureForm):
    """A form whose figure stands in a list of Site; why is asked and may be left out."""

    kept = KEPT

    reason = Words("Why", required=False, help_text="In a few words; it is kept with your name and the time.")


class RateForm(UndatedForm):
    """A rate or a rounding: entered ahead of its day, and never edited afterwards."""

    # Asked once it is refused for a closed month on which none was known.
    owed_later = forms.BooleanField(
        label="It held in the closed month: what is owed for that goes on the next return as under-declared",
        required=False,
    )

    def __init__(self, data: Any = None, **more: Any) -> None:
        super().__init__(data, **more)
        self._owed = self.fields["owed_later"]
        if not self.data.get("owed_later"):
            del self.fields["owed_later"]

    def refused(self, refusal: Unsettable) -> None:
        if isinstance(refusal, ReturnedUpon) and refusal.may_be_owed:
            self.fields["owed_later"] = self._owed
        super().refused(refusal)


class DutyRateForm(RateForm):
    """A duty rate of a band of strengths."""

    title = "Enter a duty rate"
    lead = (
        "One rate of one band of strengths. A removal whose duty was not known is worked out as soon as its rate is "
        "here. Enter it as soon as it is announced, ahead of its day; it is never edited afterwards."
    )
    submit = "Save duty rate"
    model = DutyRate
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

    def put(self, person: Person | None) -> models.Model:
        return setting.set_duty_rate(**self.cleaned_data, person=person)

    def done(self, row: Any) -> str:
        return f"Duty rate entered; it holds from {figures.day(row.from_day, year=True)}."

    def before(self) -> Any:
        given = self.cleaned_data
        try:
            return in_force.duty_rate(given["from_day"], given["strength_from_percent"])
        except in_force.NoDutyRate:
            return None

    @classmethod
    def as_it_stands(cls, row: Any) -> Mapping[str, Any]:
        return {
            "strength_from_percent": plain(row.strength_from_millionths, MILLIONTHS_A_PERCENT),
            "strength_to_percent": plain(row.strength_to_millionths, MILLIONTHS_A_PERCENT),
            "pounds_per_lpa": plain(row.pence_hundredths_per_lpa, HUNDREDTHS_OF_A_PENNY_A_POUND),
            "tax_type": row.tax_type,
            "to_day": "" if row.to_day is None else row.to_day.isoformat(),
        }


class RoundingForm(RateForm):
    """How an official figure is rounded."""

    title = "Enter a rounding of the law"
    lead = (
        "The roundings known here begin on 1 August 2023. For a removal before that day enter those of the law then: "
        f"{DUTY_STRENGTH.name}, {RETURN_LPA.name} and {DUTY_MONEY.name}."
    )
    submit = "Save rounding"
    model, group = RoundingRule, ("name",)
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

    def put(self, person: Person | None) -> models.Model:
        return setting.set_rounding_rule(**self.cleaned_data, person=person)

    def done(self, row: Any) -> str:
        return f"Rounding entered; it holds from {figures.day(row.from_day, year=True)}."

    @classmethod
    def as_it_stands(cls, row: Any) -> Mapping[str, Any]:
        return {"name": row.name, "step": plain(row.step_millionths, ONE), "way": row.way}


class PackageErrorForm(UndatedForm):
    """Tolerable negative errors of packages, the whole table of a day."""

    title = "Enter what may be missing of one package"
    lead = (
        "The whole table as it is enacted, from one day on: what may be missing of one package by its nominal "
        "quantity. The packers' rules of a bottling are checked by the table of its day."
    )
    submit = "Save table"
    model = PackageError
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

    def put(self, person: Person | None) -> models.Model:
        return set_package_errors(**self.cleaned_data, person=person)

    def done(self, row: Any) -> str:
        return f"Table entered; it holds from {figures.day(row.from_day, year=True)}."

    @classmethod
    def as_it_stands(cls, row: Any) -> Mapping[str, Any]:
        same = PackageError.objects.filter(from_day=row.from_day).order_by("nominal_from_ul")
        return {"bands": "\n".join(_line(one) for one in same)}


class BottleSizesForm(UndatedForm):
    """Sizes of bottle in which spirits may be sold, all that hold from a day."""

    title = "Enter sizes of bottle for spirits"
    lead = "All sizes that may be sold from one day on. Between two quantities only these; below and above any size."
    submit = "Save sizes"
    model = NominalQuantity
    field_order = ("from_day", "sizes", "listed_from_ml", "listed_to_ml", "source")

    from_day = Day("In force from")
    sizes = Words("Sizes that may be sold", help_text="mL, with blanks between them, such as 350 500 700.")
    listed_from_ml = Figure("Listed sizes alone from", "mL")
    listed_to_ml = Figure("Listed sizes alone to", "mL")
    source = Words("Source", help_text="Law or notice, with its date.")

    def clean_sizes(self) -> list[Decimal]:
        """The sizes one by one, mL."""
        return [_figure(one) for one in self.cleaned_data["sizes"].replace(";", " ").split()]

    def put(self, person: Person | None) -> models.Model:
        return set_nominal_quantities(**self.cleaned_data, person=person)

    def done(self, row: Any) -> str:
        return f"Sizes entered; they hold from {figures.day(row.from_day, year=True)}."

    @classmethod
    def as_it_stands(cls, row: Any) -> Mapping[str, Any]:
        same = list(NominalQuantity.objects.filter(from_day=row.from_day).order_by("from_ul"))
        listed = next((one for one in same if one.rule == LISTED_ONLY), None)
        bounds = (None, None) if listed is None else (listed.from_ul, listed.to_ul)
        sizes = (plain(one.from_ul, MICROLITRES_A_MILLILITRE) for one in same if one.rule == PERMITTED)
        low, high = (plain(one, MICROLITRES_A_MILLILITRE) for one in bounds)
        return {"sizes": " ".join(sizes), "listed_from_ml": low, "listed_to_ml": high}


def _line(row: PackageError) -> str:
    low = plain(row.nominal_from_ul, MICROLITRES_A_MILLILITRE)
    high = plain(row.nominal_to_ul, MICROLITRES_A_MILLILITRE) or "-"
    if row.share_millionths is not None:
        return f"{low} {high} {plain(row.share_millionths, MILLIONTHS_A_PERCENT)} %"
    return f"{low} {high} {plain(row.error_ul, MICROLITRES_A_MILLILITRE)} mL"


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


# The route of each form, with its kind.
KINDS: dict[str, str] = {
    "duty_rate_new": "rate",
    "rounding_rule_new": "rounding",
    "package_errors_new": "packages",
    "bottle_sizes_new": "sizes",
}
for _kind, _form in (
    ("rate", DutyRateForm),
    ("rounding", RoundingForm),
    ("packages", PackageErrorForm),
    ("sizes", BottleSizesForm),
):
    declare_form(_kind, _form)
