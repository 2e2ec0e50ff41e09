"""From the readings of one vessel to its content: pure alcohol, mass, bulk and strength, with uncertainty.

Spirit and low wines: dip or weight, temperature and hydrometer (OIML R 22:1975). Wash, bottles and weak residues have
their own rooms and are offered from here too. Each function has a twin ending in ``_chain`` that returns the whole way
from reading to result. An empty vessel holds nothing, with the uncertainty of its heel.
"""

from distillery.alcoholometry.errors import NegativeQuantity, require_not_negative
from distillery.alcoholometry.gauging.chain import (
    ChainStep,
    Contribution,
    Corrections,
    GaugeChain,
    InstrumentNames,
    InstrumentUncertainty,
    Reading,
    State,
    contributions,
)
from distillery.alcoholometry.gauging.nothing import (
    apparent_percent_shown_by,
    held_at_nothing,
    possible_percent,
    shortfall_row,
    shortfall_step,
)
from distillery.alcoholometry.gauging.readings import (
    AIR,
    AS_SPECIFIED,
    R22,
    STEP,
    UNNAMED,
    alcohol_step,
    calibration_row,
    certificate_step,
    closed_chain,
    dip_reading,
    empty_chain,
    hydrometer_reading,
    obscuration_reading,
    reading_steps,
    strength_steps,
    temperature_reading,
    volume_reading,
    volume_steps,
    weight_reading,
)
from distillery.alcoholometry.gauging.stock import gauge_by_count, gauge_by_volume, gauge_by_volume_chain
from distillery.alcoholometry.gauging.wash import NO_CORRECTIONS, gauge_wash_by_dip, gauge_wash_by_dip_chain
from distillery.alcoholometry.quantity import Quantity
from distillery.alcoholometry.reading import TWENTY_DEGREE_GLASS, StrengthInstrument
from distillery.alcoholometry.strength import density20_of_percent
from distillery.alcoholometry.volume import factor_to_20
from distillery.alcoholometry.weighing import litres20_of_true_kilograms, true_kilograms

__all__ = [
    "ChainStep",
    "Contribution",
    "Corrections",
    "GaugeChain",
    "InstrumentNames",
    "InstrumentUncertainty",
    "gauge_by_count",
    "gauge_by_dip",
    "gauge_by_dip_chain",
    "gauge_by_litres_chain",
    "gauge_by_volume",
    "gauge_by_volume_chain",
    "gauge_by_weight",
    "gauge_by_weight_chain",
    "gauge_wash_by_dip",
    "gauge_wash_by_dip_chain",
]


def gauge_by_dip(
    *,
    litres_at_temperature: float,
    litres_per_mm: float,
    celsius: float,
    hydrometer_percent: float | None,
    alcoholometer: StrengthInstrument = TWENTY_DEGREE_GLASS,
    u: InstrumentUncertainty = AS_SPECIFIED,
    heel_uncertainty_ul: float = 0.0,
    corrections: Corrections = NO_CORRECTIONS,
) -> Quantity:
    """Content of a vessel of spirit or low wines holding ``litres_at_temperature`` by its calibration.

    ``litres_per_mm`` is the calibration's slope at the dip; ``hydrometer_percent`` what the instrument showed at
    ``celsius`` (-20 to 40), in its own unit, None only for an empty vessel. Zero litres give NOTHING with
    ``heel_uncertainty_ul``. Raises the refusals of reading and volume.
    """
    return gauge_by_dip_chain(
        litres_at_temperature=litres_at_temperature,
        litres_per_mm=litres_per_mm,
        celsius=celsius,
        hydrometer_percent=hydrometer_percent,
        alcoholometer=alcoholometer,
        u=u,
        heel_uncertainty_ul=heel_uncertainty_ul,
        corrections=corrections,
    ).quantity


def gauge_by_dip_chain(
    *,
    litres_at_temperature: float,
    litres_per_mm: float,
    celsius: float,
    hydrometer_percent: float | None,
    alcoholometer: StrengthInstrument = TWENTY_DEGREE_GLASS,
    u: InstrumentUncertainty = AS_SPECIFIED,
    heel_uncertainty_ul: float = 0.0,
    corrections: Corrections = NO_CORRECTIONS,
    dip_mm: float | None = None,
    instruments: InstrumentNames = UNNAMED,
) -> GaugeChain:
    """As gauge_by_dip, with the way from reading to result; ``dip_mm`` is only shown."""
    if require_not_negative(litres_at_temperature, "Volume by dip") == 0:
        return empty_chain(heel_uncertainty_ul)
    return _by_volume(
        dip_reading(litres_at_temperature, litres_per_mm, dip_mm, u, instruments),
        celsius=celsius,
        hydrometer_percent=hydrometer_percent,
        alcoholometer=alcoholometer,
        u=u,
        corrections=corrections,
        instruments=instruments,
    )


def gauge_by_litres_chain(
    *,
    litres_at_temperature: float,
    u_litres: float,
    celsius: float,
    hydrometer_percent: float | None,
    alcoholometer: StrengthInstrument = TWENTY_DEGREE_GLASS,
    u: InstrumentUncertainty = AS_SPECIFIED,
    corrections: Corrections = NO_CORRECTIONS,
    instruments: InstrumentNames = UNNAMED,
) -> GaugeChain:
    """Spirit whose volume was measured as such, by a meter or by a dip and its table, and its strength by instrument.

    ``litres_at_temperature`` (not negative) are those at ``celsius`` (-20 to 40), with ``u_litres`` for their standard
    uncertainty; brought to 20 °C by OIML R 22. Zero litres hold nothing. Raises the refusals of reading and volume.
    """
    if require_not_negative(litres_at_temperature, "Volume") == 0:
        return empty_chain(0.0)
    return _by_volume(
        volume_reading(litres_at_temperature, u_litres),
        celsius=celsius,
        hydrometer_percent=hydrometer_percent,
        alcoholometer=alcoholometer,
        u=u,
        corrections=corrections,
        instruments=instruments,
    )


def _by_volume(
    volume: Reading,
    *,
    celsius: float,
    hydrometer_percent: float | None,
    alcoholometer: StrengthInstrument,
    u: InstrumentUncertainty,
    corrections: Corrections,
    instruments: InstrumentNames,
) -> GaugeChain:
    """From litres at the liquid's own temperature, however they were found, to the content."""
    litres_at_temperature = volume.value

    def calculate(values: tuple[float, ...]) -> State:
        litres, shown_celsius, reading, *hidden = values
        temperature = corrections.thermometer.corrected(shown_celsius, "temperature")
        apparent = apparent_percent_shown_by(reading=reading, celsius=temperature, instrument=alcoholometer)
        in_shell = litres * corrections.shell.factor(temperature) if corrections.shell else litres
        litres20 = in_shell * factor_to_20(percent20=max(apparent, 0.0), celsius=temperature)
        percent = possible_percent(apparent, sum(hidden))
        # Solids hide alcohol but not weight: the mass follows from the density the liquid really has.
        kilograms = litres20 * density20_of_percent(max(apparent, 0.0)).kg_per_m3 / 1000.0
        return State(litres20 * percent / 100.0, kilograms, litres20, percent)

    readings = (
        volume,
        temperature_reading(celsius, u, instruments),
        hydrometer_reading(hydrometer_percent, alcoholometer, u, instruments),
        *obscuration_reading(corrections.obscuration),
    )
    signed = calculate(tuple(reading.value for reading in readings))
    state = held_at_nothing(signed)
    liquid_celsius = corrections.thermometer.corrected(celsius, "temperature")
    steps = (
        *reading_steps(celsius, hydrometer_percent, alcoholometer, corrections),
        *_strength(signed, corrections, alcoholometer),
        *shortfall_step(signed.percent20),
        *volume_steps(state, litres_at_temperature, liquid_celsius, corrections.shell),
    )
    rows = contributions(calculate, readings)
    calibration = calibration_row(litres_at_temperature, state, u, instruments)
    short = shortfall_row(signed, instruments.alcoholometer)
    return closed_chain(state, steps, (*rows, *calibration, *short))


def gauge_by_weight(
    *,
    gross_kg: float,
    tare_kg: float,
    celsius: float,
    hydrometer_percent: float | None,
    alcoholometer: StrengthInstrument = TWENTY_DEGREE_GLASS,
    u: InstrumentUncertainty = AS_SPECIFIED,
    heel_uncertainty_ul: float = 0.0,
    corrections: Corrections = NO_CORRECTIONS,
) -> Quantity:
    """Content of a cask or tank weighed in air, gross and tare in kg as the scale showed them.

    The temperature enters through the hydrometer reading only (and a trace of buoyancy). Gross equal to tare gives
    NOTHING with ``heel_uncertainty_ul``. Raises NegativeQuantity for gross below tare, and the refusals of reading.
    """
    return gauge_by_weight_chain(
        gross_kg=gross_kg,
        tare_kg=tare_kg,
        celsius=celsius,
        hydrometer_percent=hydrometer_percent,
        alcoholometer=alcoholometer,
        u=u,
        heel_uncertainty_ul=heel_uncertainty_ul,
        corrections=corrections,
    ).quantity


def gauge_by_weight_chain(
    *,
    gross_kg: float,
    tare_kg: float,
    celsius: float,
    hydrometer_percent: float | None,
    alcoholometer: StrengthInstrument = TWENTY_DEGREE_GLASS,
    u: InstrumentUncertainty = AS_SPECIFIED,
    heel_uncertainty_ul: float = 0.0,
    corrections: Corrections = NO_CORRECTIONS,
    instruments: InstrumentNames = UNNAMED,
) -> GaugeChain:
    """As gauge_by_weight, with the way from reading to result."""
    require_not_negative(gross_kg, "Gross weight")
    require_not_negative(tare_kg, "Tare")
    if gross_kg < tare_kg:
        raise NegativeQuantity(
            f"The gross weight {gross_kg:g} kg is below the tare {tare_kg:g} kg: weigh again, or tare the empty cask."
        )
    if gross_kg == tare_kg:
        return empty_chain(heel_uncertainty_ul)

    def calculate(values: tuple[float, ...]) -> State:
        shown_gross, shown_tare, shown_celsius, reading, *hidden = values
        gross = corrections.scale.corrected(shown_gross, "gross weight")
        tare = corrections.scale.corrected(shown_tare, "tare")
        temperature = corrections.thermometer.corrected(shown_celsius, "temperature")
        apparent = apparent_percent_shown_by(reading=reading, celsius=temperature, instrument=alcoholometer)
        liquid = max(apparent, 0.0)
        kilograms = true_kilograms(kilograms_in_air=gross - tare, percent20=liquid, celsius=temperature)
        litres20 = litres20_of_true_kilograms(true_kilograms=kilograms, percent20=liquid)
        percent = possible_percent(apparent, sum(hidden))
        return State(litres20 * percent / 100.0, kilograms, litres20, percent)

    net_kg = corrections.scale.corrected(gross_kg, "gross weight") - corrections.scale.corrected(tare_kg, "tare")
    if net_kg <= 0:
        raise NegativeQuantity(
            f"After the scale's certificate the net weight is {net_kg:g} kg: weigh again, or tare the empty cask."
        )
    step = min(STEP, net_kg / 2)
    readings = (
        weight_reading("gross weight", gross_kg, step, u, instruments),
        weight_reading("tare weight", tare_kg, step, u, instruments),
        temperature_reading(celsius, u, instruments),
        hydrometer_reading(hydrometer_percent, alcoholometer, u, instruments),
        *obscuration_reading(corrections.obscuration),
    )
    signed = calculate(tuple(reading.value for reading in readings))
    state = held_at_nothing(signed)
    steps = (
        *reading_steps(celsius, hydrometer_percent, alcoholometer, corrections),
        *_strength(signed, corrections, alcoholometer),
        *shortfall_step(signed.percent20),
        *certificate_step("gross weight", gross_kg, "kg", corrections.scale),
        *certificate_step("tare weight", tare_kg, "kg", corrections.scale),
        ChainStep("Net weight in air", net_kg, "kg", "gross − tare", AIR),
        ChainStep("True mass", state.kilograms, "kg", "net × (1 − a/8000) / (1 − a/density at t)", AIR),
        ChainStep("Bulk at 20 °C", state.litres20, "L", "mass / density at 20 °C", R22),
        alcohol_step(state),
    )
    rows = contributions(calculate, readings)
    return closed_chain(state, steps, (*rows, *shortfall_row(signed, instruments.alcoholometer)))


def _strength(state: State, corrections: Corrections, alcoholometer: StrengthInstrument) -> tuple[ChainStep, ...]:
    hidden = corrections.obscuration.percent if corrections.obscuration else 0.0
    return strength_steps(state.percent20 - hidden, corrections.obscuration, alcoholometer)
