"""Readings near nothing: a vessel of water, or tails so weak that the reading falls a little short of water's own.

Water warmer than a hydrometer's reference temperature shows more than 0 on it (at 30 °C about 1.55 % vol on a 20 °C
instrument: OIML R 22:1975 and the glass). A reading below that says 'heavier than water', which no spirit is: what was
read is nothing, within the error of reading. The strength is then 0 and the whole distance to water's own reading is
counted as uncertainty, so nothing is brought to the end of the range in silence. A reading below the lowest mark by
more than an instrument may be wrong is refused as before.
"""

from __future__ import annotations

from typing import Final

from distillery.alcoholometry.errors import NoSuchMixture, require_percent
from distillery.alcoholometry.formula import Isotherm, isotherm
from distillery.alcoholometry.gauging.chain import ChainStep, Contribution, State
from distillery.alcoholometry.reading import (
    Alcoholometer,
    DensityMeter,
    StrengthInstrument,
    percent_shown_by,
    shown_reading,
)
from distillery.alcoholometry.strength import percent_vol_of_mass_fraction

R22: Final = "OIML R 22:1975, general formula"
BOUNDED: Final = "JCGM 100:2008, 4.3.7: the quantity cannot lie below 0, so the distance to it is taken as uncertainty"

# One division of the coarsest alcoholometer, divided in 1 % vol (OIML R 44, classes II and III: one division; from
# memory), and what the law lets an oscillating density meter err at most (Polish rule on oscillating meters, § 8).
GLASS_LIMIT_PERCENT: Final = 1.0
METER_LIMIT_KG_PER_M3: Final = 1.0
# The slope just above water, over which the scale is carried on below it.
SLOPE_MASS_FRACTION: Final = 1e-4


def apparent_percent_shown_by(*, reading: float, celsius: float, instrument: StrengthInstrument) -> float:
    """As percent_shown_by, carried on below 0 % vol for a reading that falls short of what water shows.

    Negative results mean 'heavier than water' and stand for nothing. Raises NoSuchMixture where the reading lies
    further below water's own than an instrument may err (1 % vol for glass, 1 kg/m³ for a meter), and the other
    refusals of percent_shown_by.
    """
    try:
        return percent_shown_by(reading=reading, celsius=celsius, instrument=instrument)
    except NoSuchMixture:
        meter = isinstance(instrument, DensityMeter)
        density, at_liquid = _density(reading, celsius, instrument)
        heavier = density - at_liquid.water
        if heavier <= 0.0 or (meter and heavier > METER_LIMIT_KG_PER_M3):
            raise
        slope = percent_vol_of_mass_fraction(SLOPE_MASS_FRACTION) / (
            at_liquid.water - at_liquid.density(SLOPE_MASS_FRACTION)
        )
        if not meter and heavier * slope > GLASS_LIMIT_PERCENT:
            raise NoSuchMixture(_too_far(reading, celsius, instrument)) from None
        return -heavier * slope


def _density(reading: float, celsius: float, instrument: StrengthInstrument) -> tuple[float, Isotherm]:
    if isinstance(instrument, DensityMeter):
        return instrument.density(reading).kg_per_m3, isotherm(instrument.celsius)
    return instrument.density_of_liquid(reading=reading, celsius=celsius), isotherm(celsius)


def _too_far(reading: float, celsius: float, instrument: StrengthInstrument) -> str:
    """Water's own reading, so that the next step is known: to gauge water, or to look at the thermometer again."""
    assert isinstance(instrument, Alcoholometer)
    water = shown_reading(percent20=0.0, celsius=celsius, instrument=instrument)
    return (
        f"No mixture of ethanol and water shows {reading:g} at {celsius:g} °C: water itself shows {water:.4g} there on "
        "this instrument. Check the reading, the temperature and the instrument."
    )


def possible_percent(apparent: float, hidden: float) -> float:
    """True strength, % vol, of an apparent one and what solids hide; below 0 only where the apparent is.

    Raises OutOfRange for a strength outside 0 to 100 that no reading near nothing explains.
    """
    percent = apparent + hidden
    if apparent < 0.0 <= hidden and percent < 0.0:
        return percent
    return require_percent(percent, "True strength")


def held_at_nothing(signed: State) -> State:
    """The content: a strength below 0 stands for nothing, in the same litres and mass."""
    return State(0.0, signed.kilograms, signed.litres20, 0.0) if signed.percent20 < 0.0 else signed


def shortfall_row(signed: State, instrument: str) -> tuple[Contribution, ...]:
    """What a strength held at 0 adds to the uncertainty: the whole distance below it."""
    if signed.percent20 >= 0.0:
        return ()
    return (
        Contribution(
            reading="short of water's own reading",
            instrument=instrument,
            value=-signed.percent20,
            unit="% vol",
            standard_uncertainty=-signed.percent20,
            sensitivity_lpa=signed.litres20 / 100.0,
            sensitivity_percent=1.0,
            formula="strength held at 0",
            source=BOUNDED,
        ),
    )


def shortfall_step(signed_percent: float) -> tuple[ChainStep, ...]:
    """The line of the chain that says that a strength below 0 stands for nothing."""
    if signed_percent >= 0.0:
        return ()
    formula = f"nothing within the instrument's error: {-signed_percent:.2f} % vol below what water shows at t"
    return (ChainStep("True strength, held at nothing", 0.0, "% vol", formula, BOUNDED),)
