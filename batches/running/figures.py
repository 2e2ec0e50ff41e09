"""Figures as they were typed, quickly: a page about several runs and those before them reads some thousand of them."""

from __future__ import annotations

import re
from datetime import datetime
from statistics import median

from batches.sheets.declared import Field
from batches.sheets.typed.moments import Unreadable, read_moment
from batches.sheets.typed.parsing import read_number
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.wort import corrected_gravity

# A figure that can be read in one way only, whatever its unit: anything else goes the long way round.
_PLAIN_STRENGTH = re.compile(r"[0-9]{1,3}(\.[0-9]{1,2})?")
_PLAIN_GRAVITY = re.compile(r"[01]\.[0-9]{3,4}")
STRENGTH = "% vol"
_PLAIN = {STRENGTH: _PLAIN_STRENGTH, "°C": _PLAIN_STRENGTH, "relative density": _PLAIN_GRAVITY}


def figure_of(field: Field, typed: str) -> float | None:
    """The figure in the field's own unit; None where nothing that can be was written."""
    plain = _PLAIN.get(field.unit)
    if plain is not None and plain.fullmatch(typed):
        return float(typed)
    try:
        return float(read_number(field, typed))
    except Unreadable:
        return None


def time_of(field: Field, typed: str) -> datetime | None:
    """The time; None where none was written."""
    if not typed:
        return None
    try:
        return read_moment(field, typed)[0]
    except Unreadable:
        return None


def middle(values: list[float]) -> float | None:
    """The median, or None of nothing."""
    return median(values) if values else None


def gravity_at_20(read: float, celsius: float) -> float | None:
    """A gravity read at a temperature, as a saccharometer for 20 °C shows it there; None beyond 0 to 40 °C."""
    try:
        return corrected_gravity(reading=read, celsius=celsius)
    except AlcoholometryError:
        return None
