"""The forms for instruments: one new on the site, taking it into use, and its certificates."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from django import forms

from distillery.alcoholometry import uncertainty
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.people.models import Person
from distillery.plant import keeping
from distillery.plant.forms.boxes import (
    MEASURED,
    UNITS,
    Day,
    Figure,
    InstrumentBox,
    PlantForm,
    VesselBox,
    Words,
)
from distillery.plant.keeping import Point, Unkeepable
from distillery.plant.models import DensityBasis, WorksBy


class InstrumentForm(PlantForm):
    """An instrument new on the site."""

    title = "Add an instrument"
    lead = "It is used from the day it is taken into use; until then readings are taken with those in use now."
    kept = "Its figures are those of the instrument for good: one that was repaired or marked anew is another."
    submit = "Save instrument"

    code = Words("Code", longest=40, help_text="What is written on it, such as ALC2.")
    measures = forms.ChoiceField(label="It measures", choices=list(MEASURED.items()))
    unit = forms.ChoiceField(label="Unit of its scale", choices=list(UNITS.items()))
    works_by = forms.ChoiceField(label="For strength, it works by", choices=WorksBy.choices, required=False)
    density_basis = forms.ChoiceField(
        label="A scale of density is", choices=[("", "not of density"), *DensityBasis.choices], required=False
    )
    resolution = Figure("Resolution", help_text="The least it can tell apart, in its own unit.")
    standard_uncertainty = Figure(
        "Standard uncertainty of one reading", help_text="In its own unit, resolution included, certificate not."
    )
    reference_celsius = Figure(
        "Reference temperature",
        "°C",
        required=False,
        help_text="The temperature its scale is made for; of a density meter, that of its cell.",
    )
    glass_per_celsius = Figure(
        "Growth of its glass for each °C", required=False, help_text="Blank takes soda-lime glass, 0.000025."
    )

    def enter(self, person: Person) -> str:
        given = self.cleaned_data
        instrument = keeping.add_instrument(
            code=given["code"],
            measures=given["measures"],
            unit=given["unit"],
            resolution=given["resolution"],
            standard_uncertainty=given["standard_uncertainty"],
            reference_celsius=given["reference_celsius"],
            glass_per_celsius=given["glass_per_celsius"],
            works_by=given["works_by"] or WorksBy.FLOATING,
            density_basis=given["density_basis"],
        )
        return f"Instrument {instrument.code} is on the site; take it into use from a day."


class UseForm(PlantForm):
    """From a day on, an instrument is read."""

    title = "Take an instrument into use"
    lead = "From that day on, what it measures is read with it. Gauges posted before stay as they are."
    submit = "Take into use"

    instrument = InstrumentBox(label="Instrument")
    from_day = Day("From")
    vessel = VesselBox(
        label="Only at vessel",
        required=False,
        empty_label="On the whole site",
        help_text="Its own goes before the site's.",
    )

    def enter(self, person: Person) -> str:
        given = self.cleaned_data
        keeping.take_into_use(
            instrument=given["instrument"], from_day=given["from_day"], vessel=given["vessel"], person=person
        )
        return f"{given['instrument'].code} is in use from {given['from_day']:%Y-%m-%d}."


class CertificateForm(PlantForm):
    """A certificate with its corrections."""

    title = "Enter a certificate"
    lead = (
        "Corrections are added to a reading before anything else is done with it. The uncertainty the certificate "
        "states lasts from reading to reading, so gauges with the instrument share it."
    )
    submit = "Save certificate"
    beside = {"standard_uncertainty": "expanded_uncertainty"}

    instrument = InstrumentBox(label="Instrument")
    number = Words("Number of the certificate", longest=60)
    issuer = Words("Issued by")
    issued_on = Day("Issued on")
    from_day = Day("In force from", required=False, help_text="Blank takes the day it was issued.")
    points = forms.CharField(
        label="Corrections",
        required=False,
        strip=True,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 6, "cols": 24, "autocomplete": "off", "spellcheck": "false"}),
        help_text="A line for each point: reading, space, correction to add. Such as 60.0 −0.05. Linear between.",
    )
    expanded_uncertainty = Figure(
        "Uncertainty as stated, ±", required=False, help_text="In the instrument's unit. Blank where none is stated."
    )
    coverage_factor = Figure("Coverage factor k", initial=Decimal(2), required=False)

    def clean_points(self) -> list[Point]:
        """Reading and correction of each line."""
        points = []
        for line in self.cleaned_data["points"].splitlines():
            figures = line.replace("\N{MINUS SIGN}", "-").replace("\t", " ").replace(";", " ").split()
            if not figures:
                continue
            try:
                reading, correction = (Decimal(figure) for figure in figures)
                if not (reading.is_finite() and correction.is_finite()):
                    raise InvalidOperation
            except (ValueError, InvalidOperation) as error:
                raise forms.ValidationError(
                    f"'{line.strip()}' is not a reading and a correction: write two figures, such as 60.0 −0.05."
                ) from error
            points.append((reading, correction))
        return points

    def enter(self, person: Person) -> str:
        given = self.cleaned_data
        stated = given["expanded_uncertainty"]
        factor = given["coverage_factor"] or Decimal(1)
        try:
            standard = (
                None
                if stated is None
                else uncertainty.certificate(expanded=float(stated), coverage_factor=float(factor))
            )
        except AlcoholometryError as error:
            raise Unkeepable("coverage_factor" if factor <= 0 else "expanded_uncertainty", str(error)) from error
        certificate = keeping.add_certificate(
            instrument=given["instrument"],
            number=given["number"],
            issuer=given["issuer"],
            issued_on=given["issued_on"],
            from_day=given["from_day"] or given["issued_on"],
            points=given["points"],
            standard_uncertainty=None if standard is None else Decimal(repr(standard)),
            person=person,
        )
        return f"Certificate {certificate.number} of {given['instrument'].code} is entered."
