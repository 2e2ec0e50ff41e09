"""Tables to pin up: strength by reading and temperature, volume factor by strength and temperature.

Made by the same functions as every gauge (OIML R 22:1975), for one instrument and a chosen range and step. A pair
that no spirit can show is a dash.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.reading import Alcoholometer, true_percent_of_reading
from distillery.alcoholometry.volume import factor_to_20
from distillery.figures import number
from distillery.printing.blocks import Block, Paragraph
from distillery.printing.document import Part, print_document
from distillery.printing.furniture import Furniture, Impression
from distillery.printing.house import impression, site
from distillery.printing.tabled.columns import Column
from distillery.printing.tabled.tables import FigureTable

NO_SUCH_PAIR = "-"
MOST_COLUMNS = 16
MOST_ROWS = 401
SOURCE = "Computed by the general formula of OIML R 22:1975"


@dataclass(frozen=True, slots=True)
class Steps:
    """From a first to a last figure by a step, all exact decimals; the last is included where the step meets it."""

    first: Decimal
    last: Decimal
    step: Decimal

    @property
    def count(self) -> int:
        """How many there are; 0 where the range or the step makes none."""
        return int((self.last - self.first) / self.step) + 1 if self.step > 0 and self.last >= self.first else 0

    @property
    def values(self) -> tuple[Decimal, ...]:
        """Each of them."""
        return tuple(self.first + self.step * n for n in range(self.count))


def strength_table(instrument: Alcoholometer, readings: Steps, celsius: Steps) -> list[tuple[str, ...]]:
    """A row for each reading: the reading, then the true strength in % vol at 20 °C at each temperature."""
    return _grid(
        readings,
        celsius,
        2,
        lambda reading, t: true_percent_of_reading(reading=reading, celsius=t, instrument=instrument),
    )


def volume_table(percents: Steps, celsius: Steps) -> list[tuple[str, ...]]:
    """A row for each true strength: the strength, then the factor to 20 °C at each temperature."""
    return _grid(percents, celsius, 5, lambda percent, t: factor_to_20(percent20=percent, celsius=t))


def strength_pdf(
    instrument: Alcoholometer, name: str, readings: Steps, celsius: Steps, *, printed_at: datetime, printed_by: str
) -> bytes:
    """The strength table of one instrument. Raises TableError where it does not fit the page."""
    return _pdf(
        "Strength by hydrometer and thermometer",
        name,
        (
            "True strength in % vol at 20 °C, by hydrometer reading (down, % vol) and temperature of the sample "
            "(across, °C).",
            f"Instrument: {name}; glass growing by {instrument.glass_per_celsius * 1e6:g} millionths per °C. "
            + _certified(instrument),
        ),
        "Reading",
        strength_table(instrument, readings, celsius),
        celsius,
        impression(printed_at, printed_by),
    )


def volume_pdf(percents: Steps, celsius: Steps, *, printed_at: datetime, printed_by: str) -> bytes:
    """The table of volume factors. Raises TableError where it does not fit the page."""
    return _pdf(
        "Volume factor to 20 °C",
        "Spirit and water",
        (
            "Litres at the temperature (across, °C) times the factor are litres at 20 °C. Look it up at the TRUE "
            "strength (down, % vol at 20 °C), not at the reading. The liquid alone; the vessel's own growth is left "
            "out.",
        ),
        "Strength",
        volume_table(percents, celsius),
        celsius,
        impression(printed_at, printed_by),
    )


def _certified(instrument: Alcoholometer) -> str:
    if not instrument.certificate.points:
        return "It has no corrections on record; those of the thermometer are to be applied to the temperature first."
    return (
        f"The corrections of its {instrument.certificate.source} are in the table: look up the reading as shown. Those "
        "of the thermometer are not: apply them to the temperature first."
    )


def _grid(down: Steps, across: Steps, places: int, entry: Callable[[float, float], float]) -> list[tuple[str, ...]]:
    def cell(row: Decimal, column: Decimal) -> str:
        try:
            return number(entry(float(row), float(column)), places)
        except AlcoholometryError:
            return NO_SUCH_PAIR

    return [(f"{row:f}", *(cell(row, column) for column in across.values)) for row in down.values]


def _pdf(
    title: str,
    numbered: str,
    sentences: tuple[str, ...],
    first: str,
    rows: list[tuple[str, ...]],
    celsius: Steps,
    impression: Impression,
) -> bytes:
    columns = (
        Column(first, "% vol", "right"),
        *(Column(number(value, max(0, -int(value.as_tuple().exponent))), "°C", "right") for value in celsius.values),
    )
    blocks: list[Block] = [
        *(Paragraph(sentence) for sentence in sentences),
        FigureTable(columns, rows, space_above=8.0),
        Paragraph(
            f"{SOURCE}, the functions that every gauge of this site is worked out with. A dash: no spirit and water "
            "shows this pair. Between lines, interpolate in proportion.",
            small=True,
        ),
    ]
    return print_document([Part(Furniture(site(), title, numbered, 0, impression), blocks, landscape=True)])
