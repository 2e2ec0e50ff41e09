"""How each kind of gauge is measured, in words: what is taken in hand, what is done with the readings, and by what.

The formulas are those of `distillery.alcoholometry`, where each names its source; this says once, for people, which of
them a gauge goes through. The steps of one gauge with its own figures stand on the page of its record.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from distillery.alcoholometry.gauging.readings import AIR, DEFINITION, R22
from ledger.posting.gauging import Method

TABLE: Final = "the vessel's own calibration table, linear between its lines"
CERTIFICATES: Final = "27 CFR 30.23 (certificate corrections first)"


@dataclass(frozen=True, slots=True)
class HowMeasured:
    """One kind of gauge: instruments, what is done with their readings, one sentence a step, and the sources."""

    name: str
    instruments: str
    steps: tuple[str, ...]
    sources: tuple[str, ...]


_TRUE_STRENGTH: Final = (
    "The true strength is found from the hydrometer's reading and the temperature: density of the mark × "
    "(1 − g × (t − T0)), the glass's own expansion, solved for the strength at t."
)
_ALCOHOL: Final = "Pure alcohol is litres at 20 °C × strength at 20 °C / 100."

HOW_MEASURED: Final[Mapping[str, HowMeasured]] = {
    Method.SPIRIT_DIP: HowMeasured(
        "Spirit, low wines or feints by dip",
        "dip rod, thermometer, hydrometer",
        (
            "Each reading is corrected by its instrument's certificate, where there is one.",
            f"The dip gives litres by {TABLE}.",
            _TRUE_STRENGTH,
            "Litres are brought to 20 °C: litres × density at t / density at 20 °C.",
            _ALCOHOL,
        ),
        (R22, DEFINITION, CERTIFICATES),
    ),
    Method.WASH_DIP: HowMeasured(
        "Wash by dip and gravities",
        "dip rod, thermometer, saccharometer",
        (
            f"The dip gives litres by {TABLE}.",
            "The strength is the drop from original to present gravity, in degrees, × the factor of its band; the "
            "hydrometer for spirit does not hold for wash, which carries solids.",
            _ALCOHOL,
        ),
        ("the dated table of gravity factors, named on the record's page", CERTIFICATES),
    ),
    Method.WEIGHT: HowMeasured(
        "Cask by weight",
        "scale, thermometer, hydrometer",
        (
            "Net is gross less tare; the mass is the net weight brought from air to vacuum.",
            _TRUE_STRENGTH,
            "Litres at 20 °C are mass / density at 20 °C.",
            _ALCOHOL,
        ),
        (R22, AIR, DEFINITION, CERTIFICATES),
    ),
    Method.VOLUME: HowMeasured(
        "Cask by volume",
        "meter, or dip rod and the cask's table; thermometer, hydrometer",
        (
            "Litres are those of the meter, or of the table for the dip, at the temperature beside them.",
            _TRUE_STRENGTH,
            "Litres are brought to 20 °C: litres × density at t / density at 20 °C.",
            _ALCOHOL,
        ),
        (R22, DEFINITION, CERTIFICATES),
    ),
    Method.WEIGHT_AT_STRENGTH: HowMeasured(
        "Cask by weight, at a strength known at 20 °C",
        "scale",
        (
            "Net is gross less tare; the mass is the net weight brought from air to vacuum.",
            "Litres at 20 °C are mass / density at 20 °C of the strength written.",
            _ALCOHOL,
        ),
        (R22, AIR, DEFINITION),
    ),
}
