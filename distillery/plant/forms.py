"""The boxes in which a site enters its instruments, their certificates, how sure its tables are, and obscurations.

A form gathers what was typed; what cannot be is refused by `distillery.plant.keeping`, and the sentence stands beside
the box that holds the slip. Figures are read as on the sheets (`distillery.typed`).
"""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from distillery import typed
from distillery.alcoholometry import uncertainty
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.obscuration import obscuration_by_distilling
from distillery.clock.reading import books_now, books_today
from distillery.people.models import Person
from distillery.plant import keeping
from distillery.plant.keeping import Point, Unkeepable
from distillery.plant.models import DensityBasis, Instrument, Kind, Vessel, WorksBy
from distillery.plant.outfit import DENSITY, DIP, GRAVITY, STRENGTH, TEMPERATURE, WEIGHT
from distillery.plant.shown import WORDS
from distillery.typed import NotAFigure

INVALID = "This is not a figure: type digits with a point, such as 0.05."
REQUIRED = "This is blank: fill it in."
NO_DAY = "This is not a day: write it as 2027-03-04."
NO_MOMENT = "This is not a time: write it as 2027-03-04 14:30."
MEASURED = {
    STRENGTH: "Strength",
    TEMPERATURE: "Temperature",
    DIP: "Dip",
    GRAVITY: "Gravity",
    WEIGHT: "Weight of casks",
}
UNITS = WORDS | {DENSITY: f"{WORDS[DENSITY]} (density)", "mm": "mm", "kg": "kg"}


def _now() -> str:
    return f"{timezone.localtime(books_now()):%Y-%m-%d %H:%M}"


def _today() -> str:
    return f"{books_today():%Y-%m-%d}"


class Figure(forms.DecimalField):
    """A figure with its unit beside the box."""

    def __init__(self, label: str, unit: str = "", *, required: bool = True, help_text: str = "", **more: Any) -> None:
        super().__init__(
            label=label,
            required=required,
            help_text=help_text,
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            error_messages={"invalid": INVALID, "required": REQUIRED},
            **more,
        )
        self.unit = unit
        self.width = 8

    def to_python(self, value: Any) -> Decimal | None:  # type: ignore[override]
        if isinstance(value, str) and value.strip():
            try:
                value = typed.figure(value, unit=self.unit)
            except NotAFigure as refused:
                raise ValidationError(f"{str(refused)[0].upper()}{str(refused)[1:]}", code="invalid") from refused
        figure: Decimal | None = super().to_python(value)
        return figure


class Day(forms.DateField):
    """A day, as 2027-03-04 or 4/3/2027."""

    def __init__(self, label: str, **more: Any) -> None:
        super().__init__(
            label=label,
            input_formats=["%Y-%m-%d", "%d/%m/%Y"],
            widget=forms.TextInput(attrs={"autocomplete": "off"}),
            error_messages={"invalid": NO_DAY, "required": REQUIRED},
            **more,
        )
        self.width = 12


class Words(forms.CharField):
    """A few words."""

    def __init__(self, label: str, *, longest: int = 400, **more: Any) -> None:
        super().__init__(
            label=label,
            max_length=longest,
            widget=forms.TextInput(attrs={"autocomplete": "off"}),
            error_messages={"required": REQUIRED},
            **more,
        )
        self.width = 40


class InstrumentBox(forms.ModelChoiceField):  # type: ignore[type-arg]
    """An instrument by its code and what it measures."""

    def __init__(self, **more: Any) -> None:
        super().__init__(
            queryset=Instrument.objects.all(),
            to_field_name="code",
            empty_label="Choose",
            error_messages={"required": "Choose the instrument.", "invalid_choice": "There is no such instrument."},
            **more,
        )

    def label_from_instance(self, obj: Instrument) -> str:
        return f"{obj.code}, {MEASURED.get(obj.measures, obj.measures).lower()}"


class VesselBox(forms.ModelChoiceField):  # type: ignore[type-arg]
    """A vessel by its code and name."""

    def __init__(self, **more: Any) -> None:
        super().__init__(
            queryset=Vessel.objects.exclude(kind=Kind.CASK),
            to_field_name="code",
            empty_label=more.pop("empty_label", "Choose"),
            error_messages={"required": "Choose the vessel.", "invalid_choice": "There is no such vessel."},
            **more,
        )

    def label_from_instance(self, obj: Vessel) -> str:
        return f"{obj.code}, {obj.name}"


class PlantForm(forms.Form):
    """A form that enters one thing; `keep` does it and says so, or puts the sentence beside its box."""

    title: ClassVar[str] = ""
    lead: ClassVar[str] = ""
    # What becomes of it once it is entered.
    kept: ClassVar[str] = (
        "What is entered is kept with your name and the time and is never changed; a newer entry takes its place from "
        "its own day on."
    )
    submit: ClassVar[str] = "Save"
    # Which box shows what is refused under another name.
    beside: ClassVar[dict[str, str]] = {}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.is_bound:
            next(iter(self.fields.values())).widget.attrs["autofocus"] = True

    def keep(self, person: Person) -> str:
        """Enters it and returns what to say; '' where something was refused, which then stands on the form."""
        try:
            return self.enter(person)
        except Unkeepable as refused:
            box = self.beside.get(refused.field, refused.field)
            self.add_error(box if box in self.fields else None, refused.sentence)
        return ""

    def enter(self, person: Person) -> str:
        """Hands what was typed to the room that keeps it. Raises Unkeepable."""
        raise NotImplementedError


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
