"""Figures that say another unit than the field's own: those of the United States, the size of a bottle in another
part of the litre ('700 ml', '0.7 L'), the scale of a hydrometer, and gravities in degrees.

'52.8 gal', '441 lb', '68 °F', '127 proof' are turned into litres, kilograms, °C and % vol at 20 °C: US gallon
3.785411784 L, pound 0.45359237 kg (NIST SP 811, figures from memory); US proof is twice the % vol at 60 °F, brought to
20 °C by OIML R 22:1975. A volume stays at the temperature it was measured at. What a hydrometer showed is another
matter: '127 proof' or '901.2 kg/m3' there says which scale was read, stays as it is, and is corrected as a reading of
that scale. The text is kept as typed.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal, InvalidOperation

from batches.sheets.declared import Field
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.proof import KILOGRAMS_PER_POUND, LITRES_PER_US_GALLON, percent20_of_us_proof
from distillery.typed.meaning import UNITS, gravity_of, parted, plain_unit, readings

MILLIONTH = Decimal("0.000001")
FREEZING_FAHRENHEIT = Decimal(32)
FAHRENHEIT_PER_CELSIUS = Decimal("1.8")
READ_OFF = "hydrometer_percent"
PROOF = ("proof", "us proof", "° proof", "°proof", "degrees proof")

# Scales of a hydrometer besides % vol, by the unit in which a gauge's chain names them: how people write it, and the
# most that can be read.
SCALES: dict[str, tuple[tuple[str, ...], Decimal]] = {
    "US proof": (PROOF, Decimal(200)),
    "kg/m³": (("kg/m3", "kg/m³"), Decimal(1200)),
    "% mas": (("% mas", "%mas", "% mass", "% by mass"), Decimal(100)),
    "relative density": (("sg", "rd", "relative density"), Decimal("1.2")),
}

Turned = Callable[[Decimal], Decimal]


class NotTurnedOver(ValueError):
    """The figure cannot be taken over into the field's unit; `str()` is the sentence."""


def _proof(figure: Decimal) -> Decimal:
    return Decimal(repr(percent20_of_us_proof(float(figure))))


# By the field's unit: how people write the other one, in small letters, and the way over.
WRITTEN: dict[str, tuple[tuple[str, ...], Turned]] = {
    "L": (
        ("gal", "us gal", "gallon", "gallons", "us gallons", "wine gallons"),
        lambda figure: figure * Decimal(repr(LITRES_PER_US_GALLON)),
    ),
    "kg": (("lb", "lbs", "pound", "pounds"), lambda figure: figure * Decimal(repr(KILOGRAMS_PER_POUND))),
    "°C": (
        ("°f", "f", "° f", "deg f", "degf", "fahrenheit"),
        lambda figure: (figure - FREEZING_FAHRENHEIT) / FAHRENHEIT_PER_CELSIUS,
    ),
    "% vol": (PROOF, _proof),
}


# Sizes of bottles, said in another part of the litre: the unit in small letters, and how many of the field's own it is.
METRIC: dict[str, dict[str, Decimal]] = {
    "cl": {"ml": Decimal("0.1"), "L": Decimal(100)},
    "mL": {"cl": Decimal(10), "L": Decimal(1000)},
}


def says_other_unit(field: Field, typed: str) -> bool:
    """True where a figure was typed with another unit than the field's own."""
    return bool(scale_said(field, typed)) or turned_over(field, _tail(typed)) is not None or in_degrees(field, typed)


def in_degrees(field: Field, typed: str) -> bool:
    """True for a gravity that was written in degrees and is taken as relative density."""
    found = parted(typed.strip()) if field.unit == "relative density" else None
    if found is None:
        return False
    below_zero, digits, tail = found
    values = [-value if below_zero else value for value in readings(digits)]
    taken = [gravity_of(value, plain_unit(tail)) for value in values]
    return any(taken) and not any(one == value for one, value in zip(taken, values, strict=True))


def scale_said(field: Field, typed: str) -> str:
    """The scale that a hydrometer's reading says it was read on; '' where it says none, or is no such reading."""
    if not field.name.endswith(READ_OFF):
        return ""
    written = _tail(typed)
    return next((scale for scale, (ways, _most) in SCALES.items() if written in ways), "")


def _tail(typed: str) -> str:
    return plain_unit(re.sub(r"^[\s+\-\u2212]*[0-9.,][0-9.,' \u00a0\u202f]*", "", typed))


def on_its_scale(field: Field, typed: str) -> Field:
    """The field as it is for a reading that says its scale: that unit, its own limit, and nothing usual."""
    scale = scale_said(field, typed)
    if not scale:
        return field
    return replace(field, unit=scale, impossible_above=SCALES[scale][1], usual_low=None, usual_high=None)


def turned_over(field: Field, written: str) -> Turned | None:
    """The way from a unit as it was written to the field's own; None where it is not one of the units that are turned
    into it.

    The way raises NotTurnedOver for a figure that cannot be.
    """
    for unit, factor in METRIC.get(field.unit, {}).items():
        if written in (unit.lower(), *UNITS.get(unit, UNITS["mL"])):
            return lambda figure: figure * factor
    units, way = WRITTEN.get(field.unit, ((), None))
    if way is None or written not in units:
        return None

    def over(figure: Decimal) -> Decimal:
        try:
            return way(figure).quantize(MILLIONTH)
        except AlcoholometryError as error:
            raise NotTurnedOver(f"{field.label}: {error}") from error
        except InvalidOperation as error:
            raise NotTurnedOver(f"{field.label} is too long a figure to take over: check it.") from error

    return over
