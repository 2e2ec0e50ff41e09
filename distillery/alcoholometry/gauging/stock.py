"""Bottled stock by count, and residues or metered amounts by volume and strength as recorded.

A bottle holds what its label says, in whole microlitres, so that any split of the stock adds up again. Pot ale, spent
lees and the like are too weak for a full gauge: a volume and a strength are written down, each with its uncertainty.
"""

from decimal import ROUND_HALF_EVEN, Decimal

from distillery.alcoholometry.errors import OutOfRange, require_not_negative, require_percent
from distillery.alcoholometry.gauging.chain import GaugeChain, InstrumentNames, Reading, State, contributions
from distillery.alcoholometry.gauging.readings import DEFINITION, STEP, UNNAMED, alcohol_step, closed_chain
from distillery.alcoholometry.quantity import Quantity, whole_grams
from distillery.alcoholometry.strength import density20_of_percent


def gauge_by_count(*, bottles: int, centilitres: float | Decimal, label_percent: float | Decimal) -> Quantity:
    """Content of bottled stock by the label: 70 cl at 41.4 % vol is 289 800 µL a bottle, without uncertainty.

    Rounded (half to even) a bottle at a time. Raises NegativeQuantity, OutOfRange or NotANumber.
    """
    require_not_negative(bottles, "Number of bottles")
    if bottles != int(bottles):
        raise OutOfRange(f"{bottles} is not a whole number of bottles: count them again.")
    require_not_negative(float(centilitres), "Contents of a bottle")
    percent20 = require_percent(float(label_percent), "Strength on the label")
    volume = Decimal(str(centilitres))
    # A centilitre is 10 000 µL and a percent a hundredth, hence 100 µL per centilitre and percent.
    alcohol_a_bottle = (volume * Decimal(str(label_percent)) * 100).to_integral_value(rounding=ROUND_HALF_EVEN)
    kilograms_a_bottle = float(volume) / 100.0 * density20_of_percent(percent20).kg_per_m3 / 1000.0
    return Quantity(
        pure_ul=int(bottles) * int(alcohol_a_bottle),
        mass_g=int(bottles) * whole_grams(kilograms_a_bottle),
        litres20=float(int(bottles) * volume / 100),
        percent20=percent20 if bottles else 0.0,
        uncertainty_ul=0.0,
    )


def gauge_by_volume(*, litres: float, percent20: float, u_litres: float, u_percent: float) -> Quantity:
    """A volume in litres at 20 °C and a strength in % vol at 20 °C as recorded.

    ``u_litres`` and ``u_percent`` are standard uncertainties. Raises OutOfRange, NegativeQuantity or NotANumber.
    """
    return gauge_by_volume_chain(litres=litres, percent20=percent20, u_litres=u_litres, u_percent=u_percent).quantity


def gauge_by_volume_chain(
    *,
    litres: float,
    percent20: float,
    u_litres: float,
    u_percent: float,
    instruments: InstrumentNames = UNNAMED,
) -> GaugeChain:
    """As gauge_by_volume, with the way from reading to result."""
    require_not_negative(u_litres, "Standard uncertainty of the volume")
    require_not_negative(u_percent, "Standard uncertainty of the strength")

    def calculate(values: tuple[float, ...]) -> State:
        litres20 = require_not_negative(values[0], "Volume")
        percent = require_percent(values[1], "Strength")
        kilograms = litres20 * density20_of_percent(percent).kg_per_m3 / 1000.0
        return State(litres20 * percent / 100.0, kilograms, litres20, percent)

    formula = "litres × strength / 100"
    readings = (
        Reading("volume", instruments.meter, litres, "L", u_litres, STEP, formula, DEFINITION),
        Reading("strength", instruments.strength, percent20, "% vol", u_percent, STEP, formula, DEFINITION),
    )
    state = calculate((litres, percent20))
    return closed_chain(state, (alcohol_step(state),), contributions(calculate, readings))
