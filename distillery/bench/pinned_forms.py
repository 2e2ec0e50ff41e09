"""Which table to pin up: instrument, range and step, checked before anything is printed."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.formula import HIGHEST_CELSIUS, LOWEST_CELSIUS
from distillery.alcoholometry.reading import Alcoholometer
from distillery.bench.boxes import INVALID, REQUIRED
from distillery.bench.instruments import STRENGTH, bench
from distillery.bench.pinned import MOST_COLUMNS, MOST_ROWS, Steps, strength_pdf, volume_pdf
from distillery.printing.tabled.columns import TableError
from distillery.typed import meaning as typed

PERCENT = ("0", "100")
CELSIUS = (f"{LOWEST_CELSIUS:g}", f"{HIGHEST_CELSIUS:g}")


class Exact(forms.DecimalField):
    """An exact decimal with its unit, within limits."""

    def __init__(self, label: str, unit: str, initial: str, limits: tuple[str, str]) -> None:
        low, high = limits
        # Django fills these sentences in with %, so the sign of a unit is doubled.
        outside = f"This is outside {low} to {high} {unit}: choose a figure within.".replace("%", "%%")
        super().__init__(
            label=label,
            initial=initial,
            min_value=Decimal(low),
            max_value=Decimal(high),
            max_digits=7,
            decimal_places=3,
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            error_messages={
                "invalid": INVALID,
                "required": REQUIRED,
                "min_value": outside,
                "max_value": outside,
            },
        )
        self.unit = unit
        self.width = 8

    def to_python(self, value: Any) -> Decimal | None:  # type: ignore[override]
        if isinstance(value, str) and value.strip():
            try:
                value = typed.figure(value, unit=self.unit)
            except typed.NotAFigure as refused:
                raise ValidationError(f"{str(refused)[0].upper()}{str(refused)[1:]}", code="invalid") from refused
        figure: Decimal | None = super().to_python(value)
        return figure


class TableForm(forms.Form):
    """Range and step of both sides of a table."""

    name = ""
    title = ""
    down = ""

    low = Exact("From", "% vol", "60", PERCENT)
    high = Exact("To", "% vol", "70", PERCENT)
    step = Exact("In steps of", "% vol", "0.5", ("0.01", "50"))
    coldest = Exact("Temperature from", "°C", "10", CELSIUS)
    warmest = Exact("Temperature to", "°C", "20", CELSIUS)
    celsius_step = Exact("Temperature in steps of", "°C", "1", ("0.01", "20"))

    def pdf(self, *, printed_at: datetime, printed_by: str) -> bytes:
        """The table as a PDF; only after the form was found right."""
        raise NotImplementedError

    @property
    def rows(self) -> Steps:
        given = self.cleaned_data
        return Steps(given["low"], given["high"], given["step"])

    @property
    def celsius(self) -> Steps:
        given = self.cleaned_data
        return Steps(given["coldest"], given["warmest"], given["celsius_step"])

    def clean(self) -> dict[str, Any]:
        given: dict[str, Any] = super().clean() or {}
        if self.errors:
            return given
        self.cleaned_data = given
        if not self.rows.count:
            self.add_error("high", "The range ends below where it begins: swap the two.")
        elif self.rows.count > MOST_ROWS:
            self.add_error("step", f"That makes {self.rows.count} lines: choose a wider step, {MOST_ROWS} is the most.")
        if not self.celsius.count:
            self.add_error("warmest", "The temperatures end below where they begin: swap the two.")
        elif self.celsius.count > MOST_COLUMNS:
            self.add_error(
                "celsius_step",
                f"That makes {self.celsius.count} columns: choose a wider step, {MOST_COLUMNS} is the most.",
            )
        return given


class StrengthTableForm(TableForm):
    """Strength by reading and temperature, for one hydrometer."""

    name = "strength"
    title = "Strength by hydrometer reading and temperature"
    instrument = forms.ChoiceField(label="Hydrometer")
    field_order = ("instrument",)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.bench = bench()
        self.alcoholometer: Alcoholometer | None = None
        box = self.fields["instrument"]
        assert isinstance(box, forms.ChoiceField)
        box.choices = self.bench.choices(STRENGTH)
        box.initial = box.choices[0][0]

    def clean_instrument(self) -> str:
        chosen: str = self.cleaned_data["instrument"]
        try:
            instrument = self.bench.outfit(chosen).alcoholometer
        except AlcoholometryError as refused:
            raise forms.ValidationError(str(refused)) from refused
        if not isinstance(instrument, Alcoholometer) or instrument.scale != "percent_vol":
            raise forms.ValidationError("The table is for a hydrometer graduated in % vol: choose one of those.")
        self.alcoholometer = instrument
        return chosen

    def pdf(self, *, printed_at: datetime, printed_by: str) -> bytes:
        if self.alcoholometer is None:
            raise TableError("Choose the hydrometer that the table is for.")
        name = dict(self.bench.choices(STRENGTH))[self.cleaned_data["instrument"]]
        return strength_pdf(
            self.alcoholometer, name, self.rows, self.celsius, printed_at=printed_at, printed_by=printed_by
        )


class VolumeTableForm(TableForm):
    """Volume factor by true strength and temperature."""

    name = "volume"
    title = "Volume factor to 20 °C by strength and temperature"

    def pdf(self, *, printed_at: datetime, printed_by: str) -> bytes:
        return volume_pdf(self.rows, self.celsius, printed_at=printed_at, printed_by=printed_by)


TABLES: dict[str, type[TableForm]] = {"strength": StrengthTableForm, "volume": VolumeTableForm}
