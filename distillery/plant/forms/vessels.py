"""The forms for vessels: how sure the table of one is, and what solids hide in it."""

from __future__ import annotations

from decimal import Decimal

from django import forms
from django.utils import timezone

from distillery.alcoholometry import uncertainty
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.obscuration import obscuration_by_distilling
from distillery.clock.reading import books_now, books_today
from distillery.people.models import Person
from distillery.plant import keeping
from distillery.plant.forms.boxes import (
    NO_MOMENT,
    REQUIRED,
    Day,
    Figure,
    PlantForm,
    VesselBox,
    Words,
)
from distillery.plant.keeping import Unkeepable
from distillery.plant.models import Kind, Vessel


def _now() -> str:
    return f"{timezone.localtime(books_now()):%Y-%m-%d %H:%M}"


def _today() -> str:
    return f"{books_today():%Y-%m-%d}"


class CalibrationForm(PlantForm):
    """How sure a vessel's table is."""

    title = "Enter how sure a vessel's table is"
    lead = "What the calibration of a vessel leaves open is common to all gauges of it."
    submit = "Save"
    beside = {"standard_percent": "limit_percent"}

    vessel = VesselBox(label="Vessel")
    from_day = Day("From", help_text="The day of the calibration.")
    limit_percent = Figure(
        "Limit of error of the volume, ±",
        "%",
        required=False,
        help_text="A limit with no more said counts as rectangular.",
    )
    standard_percent = Figure("Or its standard uncertainty", "%", required=False)
    calibration_celsius = Figure(
        "Temperature of the calibration", "°C", required=False, help_text="With it the shell's growth is reckoned."
    )
    expansion_per_celsius = Figure(
        "Growth of the shell for each °C", required=False, help_text="Of the volume. Blank takes steel, 0.00005."
    )
    source = Words("Source", help_text="Certificate or rule the figure stands in.")

    def enter(self, person: Person) -> str:
        given = self.cleaned_data
        limit, standard = given["limit_percent"], given["standard_percent"]
        if (limit is None) == (standard is None):
            raise Unkeepable("limit_percent", "Give either the limit of error or the standard uncertainty, not both.")
        if limit is not None:
            if limit < 0:
                raise Unkeepable("limit_percent", "A limit of error is nothing or more: check the sign.")
            standard = Decimal(repr(uncertainty.rectangular(float(limit))))
        keeping.add_calibration(
            vessel=given["vessel"],
            from_day=given["from_day"],
            standard_percent=standard,
            source=given["source"],
            calibration_celsius=given["calibration_celsius"],
            expansion_per_celsius=given["expansion_per_celsius"],
            person=person,
        )
        return f"The table of {given['vessel'].code} has its uncertainty from {given['from_day']:%Y-%m-%d}."


class ObscurationForm(PlantForm):
    """What solids hide in a vessel."""

    title = "Enter an obscuration"
    lead = (
        "Added with its sign to the strength of every gauge of the vessel from that moment on, under your name. "
        "Enter 0 when the vessel holds clear spirit again."
    )
    submit = "Sign and save"

    vessel = VesselBox(label="Vessel", required=False)
    cask = Words("Or a cask, by its number", longest=40, required=False)
    from_at = forms.DateTimeField(
        label="From",
        input_formats=["%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%d/%m/%Y %H:%M"],
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"invalid": NO_MOMENT, "required": REQUIRED},
        initial=_now,
        help_text="On the site's clock, such as 2027-03-04 14:30.",
    )
    percent = Figure(
        "Obscuration", "% vol", required=False, help_text="True less apparent strength at 20 °C, with its sign."
    )
    apparent_percent = Figure("Or: apparent strength of the sample", "% vol", required=False)
    distilled_percent = Figure("and strength of its distillate, made up to volume", "% vol", required=False)
    standard_uncertainty = Figure("Standard uncertainty", "% vol", help_text="Half of a ± that is stated with k = 2.")
    determined_on = Day("Found on", initial=_today)
    source = Words("How it was found", required=False, help_text="Method and who did it. Blank where distilled above.")

    def enter(self, person: Person) -> str:
        given = self.cleaned_data
        vessel = self._vessel()
        percent, source = given["percent"], given["source"]
        pair = (given["apparent_percent"], given["distilled_percent"])
        if (percent is None) == (None in pair):
            raise Unkeepable("percent", "Give either the obscuration, or both strengths of the sample.")
        if percent is None:
            try:
                found = obscuration_by_distilling(
                    apparent_percent=float(pair[0]),
                    distilled_percent=float(pair[1]),
                    determined_on=given["determined_on"],
                )
            except AlcoholometryError as error:
                raise Unkeepable("distilled_percent", str(error)) from error
            percent = pair[1] - pair[0]
            source = "; ".join(part for part in (source, found.source) if part)
        if given["determined_on"] > books_today():
            raise Unkeepable("determined_on", "That day is still to come: write the day the sample was measured.")
        keeping.add_obscuration(
            vessel=vessel,
            from_at=given["from_at"],
            percent=percent,
            standard_uncertainty=given["standard_uncertainty"],
            determined_on=given["determined_on"],
            source=source,
            person=person,
        )
        said = f"{percent:+} % vol" if percent else "nothing hidden any more"
        return f"Obscuration of {vessel.code}: {said} from {given['from_at']:%Y-%m-%d %H:%M}, signed."

    def _vessel(self) -> Vessel:
        chosen, number = self.cleaned_data["vessel"], self.cleaned_data["cask"].strip()
        if (chosen is None) == (not number):
            raise Unkeepable("vessel", "Choose the vessel, or write the number of the cask, not both.")
        if chosen is not None:
            vessel: Vessel = chosen
            return vessel
        cask = Vessel.objects.filter(kind=Kind.CASK, code__iexact=number).first()
        if cask is None:
            raise Unkeepable("cask", f"There is no cask {number} in the plant: check the number.")
        return cask
