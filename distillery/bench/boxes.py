"""The boxes of a bench form, and the form that works its sum out as it is read.

A box refuses a figure that cannot be, with the sentence of the formula that refuses it; what goes together badly is
shown beside the box that most likely holds the slip. Figures are read as on the sheets (`distillery.typed.meaning`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError

from distillery.alcoholometry.errors import (
    AlcoholometryError,
    OutOfRange,
    require_not_negative,
    require_percent,
)
from distillery.alcoholometry.formula import isotherm
from distillery.alcoholometry.reading import StrengthInstrument
from distillery.alcoholometry.wort import require_gravity
from distillery.bench.answer import COVERAGE_FACTOR, Answer
from distillery.bench.instruments import Bench, bench
from distillery.plant.calibration import DipOutsideTable, NoCalibration
from distillery.plant.outfit import Outfit
from distillery.typed import meaning as typed
from distillery.typed.meaning import NotAFigure

REFUSALS = (AlcoholometryError, DipOutsideTable, NoCalibration)
INVALID = "This is not a figure: type digits, such as 63.5."
REQUIRED = "This is blank: enter the figure."
TWO_STANDARD = "Two standard uncertainties, in the same unit; blank takes the usual."
MOST = 1e9


class Refusal(Exception):
    """A figure that cannot be worked with: the box it belongs to, and the sentence to show there."""

    def __init__(self, box: str, sentence: str) -> None:
        super().__init__(sentence)
        self.box = box
        self.sentence = sentence


@contextmanager
def beside(box: str) -> Iterator[None]:
    """What is refused inside is shown beside this box."""
    try:
        yield
    except REFUSALS as refused:
        raise Refusal(box, str(refused)) from refused


class Figure(forms.FloatField):
    """A figure with its unit; `check` refuses what cannot be, by an error of alcoholometry."""

    def __init__(
        self,
        label: str,
        unit: str = "",
        *,
        check: Callable[[float], object] | None = None,
        required: bool = True,
        initial: str = "",
        help_text: str = "",
    ) -> None:
        super().__init__(
            label=label,
            required=required,
            initial=initial,
            help_text=help_text,
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            error_messages={"invalid": INVALID, "required": REQUIRED},
        )
        self.unit = unit
        self.width = 8
        self.check = check

    def to_python(self, value: Any) -> float | None:  # type: ignore[override]
        if value in self.empty_values or not str(value).strip():
            return None
        try:
            return float(self.read(str(value)))
        except NotAFigure as refused:
            raise ValidationError(f"{str(refused)[0].upper()}{str(refused)[1:]}", code="invalid") from refused

    def read(self, text: str) -> Decimal:
        """The figure as typed. Raises NotAFigure."""
        return typed.figure(text, unit=self.unit)

    def clean(self, value: Any) -> float | None:
        figure: float | None = super().clean(value)
        if figure is not None and self.check is not None:
            try:
                self.check(figure)
            except AlcoholometryError as refused:
                raise ValidationError(str(refused), code="refused") from refused
        return figure


def temperature(label: str = "Temperature", **more: Any) -> Figure:
    """A temperature within the formula's range, -20 to 40 °C."""
    return Figure(label, "°C", check=isotherm, **more)


def percent(label: str = "Strength at 20 °C", **more: Any) -> Figure:
    """A strength, 0 to 100 % vol."""
    return Figure(label, "% vol", check=lambda value: require_percent(value, label), **more)


def amount(label: str, unit: str, *, check: Callable[[float], object] | None = None, **more: Any) -> Figure:
    """A volume, a weight or a length: nothing or more, and no more than a site can hold."""
    return Figure(label, unit, check=check or (lambda value: _amount(value, label, unit)), **more)


def _amount(value: float, label: str, unit: str) -> None:
    if require_not_negative(value, label) > MOST:
        raise OutOfRange(f"{label} is {value:g} {unit}, more than any site holds: check the decimal point.")


class Gravity(Figure):
    """A gravity: relative density, or degrees as the trade writes them."""

    def read(self, text: str) -> Decimal:
        taken = typed.relative_density(text)
        return super().read(text) if taken is None else taken

    def taken(self, text: str) -> str:
        """What degrees were taken for, as a sentence; '' for a relative density."""
        if not text.strip():
            return ""
        value, found = self.read(text), typed.parted(text.strip())
        if found is None or value in typed.readings(found[1]):
            return ""
        return f"{self.label}: {text.strip()} degrees are taken as {value.normalize():f}."


def gravity(label: str, **more: Any) -> Figure:
    """A relative density, 0.9 to 1.3; 1060.3 and 60.3 are taken for 1.0603."""
    return Gravity(label, "relative density", check=lambda value: require_gravity(value, label), **more)


class BenchForm(forms.Form):
    """A form whose sum is worked out when it is read; `answer` is there when everything fits."""

    title: ClassVar[str] = ""
    # Where a refusal goes that names no box of its own.
    doubtful: ClassVar[str] = ""
    # The usual caution, where the work that the sum is for can hurt someone.
    caution: ClassVar[str] = ""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.bench: Bench = bench()
        self.answer: Answer | None = None
        self.prepare()
        first = next(iter(self.fields.values()))
        if not self.is_bound:
            first.widget.attrs["autofocus"] = True

    def prepare(self) -> None:
        """Give the boxes the choices and usual values of the site."""

    def work(self, given: dict[str, Any]) -> Answer:
        """The sum. Raises Refusal or an AlcoholometryError."""
        raise NotImplementedError

    def clean(self) -> dict[str, Any]:
        given: dict[str, Any] = super().clean() or {}
        if not self.errors:
            try:
                with beside(self.doubtful):
                    self.answer = self.work(given)
            except Refusal as refusal:
                self.add_error(refusal.box, refusal.sentence)
        if self.answer is not None:
            gravities = [(name, box) for name, box in self.fields.items() if isinstance(box, Gravity)]
            taken = [box.taken(str(self[name].value() or "")) for name, box in gravities]
            self.answer = replace(self.answer, notes=(*(one for one in taken if one), *self.answer.notes))
        return given

    def typed(self) -> list[tuple[str, str, str]]:
        """Label, text and unit of all that was filled in, in page order, for a slip."""
        shown = []
        for bound in self:
            raw = bound.value()
            if raw in (None, ""):
                continue
            text = str(raw)
            if isinstance(bound.field, forms.ChoiceField):
                text = str(dict(bound.field.choices).get(text, text))  # type: ignore[arg-type]
            shown.append((str(bound.label), text, getattr(bound.field, "unit", "")))
        return shown


def obscuration(**more: Any) -> Figure:
    """What solids hide, with its sign; blank takes what is on record for the vessel."""
    more.setdefault("help_text", "True less apparent strength, with its sign. Blank takes what is on record.")
    return Figure("Obscuration", "% vol", required=False, **more)


def strength_instrument_of(outfit: Outfit, box: str = "instrument") -> StrengthInstrument:
    """What the strength is read with; what is missing on record about it is said beside its box."""
    with beside(box):
        return outfit.alcoholometer


def instrument_box(label: str = "Hydrometer") -> forms.ChoiceField:
    """Which instrument was read; its choices are set when the form is made."""
    return forms.ChoiceField(label=label)


def offer_instruments(form: BenchForm, box: str, measures: str) -> None:
    """Put the site's instruments into the box; the first is taken unless another is chosen."""
    field = form.fields[box]
    assert isinstance(field, forms.ChoiceField)
    field.choices = form.bench.choices(measures)
    field.initial = field.choices[0][0]


def standard(expanded: float | None, fallback: float) -> float:
    """Standard uncertainty of a ± as typed (two of them), or the usual one where the box is blank."""
    return fallback if expanded is None else expanded / COVERAGE_FACTOR
