"""Ready-made fields: how a time, a temperature, a strength, a dip, a weight or a gravity is written on any sheet.

What cannot be: a temperature outside -20 to 40 °C where strength is worked out from it (OIML R 22:1975), a
strength outside 0 to 100 % vol, anything below nothing. Gravities are relative densities (1.0603).
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from batches.sheets.declared import Field, Kind
from distillery.plant.models import Kind as VesselKind

DIPPED = (VesselKind.RECEIVER.value, VesselKind.VAT.value, VesselKind.TANK.value)
DIPPED_OR_WASHBACK = (*DIPPED, VesselKind.WASHBACK.value)

# Above anything a site could hold or weigh, and small enough that its microlitres and grams stay whole numbers
# of 64 bits.
MOST_LITRES = "10000000"
MOST_KILOGRAMS = "10000000"
MOST_THINGS = Decimal(10_000_000)
NOTHING = Decimal(0)
MOST_MILLIMETRES = "100000"
LONGEST_NAME = 60


def when(name: str, label: str, **more: Any) -> Field:
    """When something happened, on the site's clock."""
    return Field(name=name, label=label, kind=Kind.MOMENT, **more)


def number(
    name: str,
    label: str,
    unit: str,
    *,
    decimals: int = 1,
    low: str = "0",
    high: str | None = None,
    usual: tuple[str, str] | None = None,
    **more: Any,
) -> Field:
    """A measured figure; `low` and `high` are what it cannot pass, `usual` what it normally lies within."""
    return Field(
        name=name,
        label=label,
        kind=Kind.NUMBER,
        unit=unit,
        decimals=decimals,
        impossible_below=Decimal(low),
        impossible_above=None if high is None else Decimal(high),
        usual_low=Decimal(usual[0]) if usual else None,
        usual_high=Decimal(usual[1]) if usual else None,
        **more,
    )


def percent(name: str, label: str, *, unit: str = "% vol", **more: Any) -> Field:
    """A share or a strength, 0 to 100."""
    return number(name, label, unit, high="100", **more)


def celsius(name: str, label: str, *, high: str = "40", low: str = "-20", **more: Any) -> Field:
    """A temperature in °C."""
    return number(name, label, "°C", low=low, high=high, **more)


def litres(name: str, label: str, **more: Any) -> Field:
    """A volume in litres."""
    return number(name, label, "L", high=MOST_LITRES, **more)


def kilograms(name: str, label: str, **more: Any) -> Field:
    """A weight in kg."""
    return number(name, label, "kg", high=MOST_KILOGRAMS, **more)


def gravity(name: str, label: str, *, usual: tuple[str, str], **more: Any) -> Field:
    """A gravity as relative density at 20 °C."""
    return number(name, label, "relative density", decimals=4, low="0.98", high="1.2", usual=usual, **more)


def count(name: str, label: str, *, usual: tuple[str, str] | None = None, **more: Any) -> Field:
    """A number of things, at least one."""
    return Field(
        name=name,
        label=label,
        kind=Kind.WHOLE,
        impossible_below=Decimal(1),
        impossible_above=MOST_THINGS,
        usual_low=Decimal(usual[0]) if usual else None,
        usual_high=Decimal(usual[1]) if usual else None,
        **more,
    )


def vessel(name: str, label: str, *kinds: str, **more: Any) -> Field:
    """A vessel of the site, by its code."""
    return Field(name=name, label=label, kind=Kind.VESSEL, vessel_kinds=tuple(kinds), **more)


def text(name: str, label: str, **more: Any) -> Field:
    """Words, or the name or number of something."""
    return Field(name=name, label=label, kind=Kind.TEXT, **more)


def name(name: str, label: str, **more: Any) -> Field:
    """A short name that other records are found by: a lot, a product."""
    return text(name, label, longest=LONGEST_NAME, **more)


def record(name: str, label: str, kind: str, **more: Any) -> Field:
    """The number of another record."""
    return Field(name=name, label=label, kind=Kind.RECORD, record_kind=kind, **more)
