"""The boxes of the plant's forms: figures, days, words, instruments and vessels, and what all the forms do alike."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError

from distillery.people.models import Person
from distillery.plant.keeping import Unkeepable
from distillery.plant.models import Instrument, Kind, Vessel
from distillery.plant.outfit import DENSITY, DIP, GRAVITY, STRENGTH, TEMPERATURE, WEIGHT
from distillery.plant.pages.shown import WORDS
from distillery.typed import meaning as typed
from distillery.typed.meaning import NotAFigure

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
