"""Content of a washback from its dip, temperature and gravities.

Wash carries solids: its strength comes from original and present gravity alone, its mass is the present gravity times
water. It is taken to swell as spirit and water of its strength does (common practice, no source).
"""

from decimal import Decimal

from distillery.alcoholometry.errors import require_not_negative, require_percent
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
from distillery.alcoholometry.gauging.readings import (
    AS_SPECIFIED,
    UNNAMED,
    calibration_row,
    certificate_step,
    closed_chain,
    dip_reading,
    empty_chain,
    temperature_reading,
    volume_steps,
)
from distillery.alcoholometry.gravity import (
    DEGREES_PER_GRAVITY,
    GravityTable,
    gravity_drop_degrees,
    step_uncertainty_percent,
    wash_percent,
)
from distillery.alcoholometry.quantity import Quantity
from distillery.alcoholometry.uncertainty import Component, combined
from distillery.alcoholometry.volume import factor_to_20
from distillery.alcoholometry.wort import water_kg_per_m3

# A gravity is read to 0.0001, so it is moved by less than the other readings are.
GRAVITY_STEP = 1e-5
# Below this share of what the gravities leave open the step makes no difference that can be seen.
LEAST_STEP = 0.01
NO_CORRECTIONS = Corrections()


def gauge_wash_by_dip(
    *,
    litres_at_temperature: float,
    litres_per_mm: float,
    celsius: float,
    original_gravity: float,
    present_gravity: float,
    table: GravityTable,
    u: InstrumentUncertainty = AS_SPECIFIED,
    heel_uncertainty_ul: float = 0.0,
    corrections: Corrections = NO_CORRECTIONS,
) -> Quantity:
    """Content of a washback: litres by dip at ``celsius``, gravities as relative density at 20 °C such as 1.0603.

    Zero litres give NOTHING with ``heel_uncertainty_ul``. Raises the refusals of gravity and volume.
    """
    return gauge_wash_by_dip_chain(
        litres_at_temperature=litres_at_temperature,
        litres_per_mm=litres_per_mm,
        celsius=celsius,
        original_gravity=original_gravity,
        present_gravity=present_gravity,
        table=table,
        u=u,
        heel_uncertainty_ul=heel_uncertainty_ul,
        corrections=corrections,
    ).quantity


def gauge_wash_by_dip_chain(
    *,
    litres_at_temperature: float,
    litres_per_mm: float,
    celsius: float,
    original_gravity: float,
    present_gravity: float,
    table: GravityTable,
    u: InstrumentUncertainty = AS_SPECIFIED,
    heel_uncertainty_ul: float = 0.0,
    corrections: Corrections = NO_CORRECTIONS,
    dip_mm: float | None = None,
    instruments: InstrumentNames = UNNAMED,
) -> GaugeChain:
    """As gauge_wash_by_dip, with the way from reading to result; ``dip_mm`` is only shown."""
    if require_not_negative(litres_at_temperature, "Volume by dip") == 0:
        return empty_chain(heel_uncertainty_ul)
    saccharometer = corrections.saccharometer
    first = saccharometer.corrected(original_gravity, "original gravity")
    now = saccharometer.corrected(present_gravity, "present gravity")
    percent20 = wash_percent(original_gravity=first, present_gravity=now, table=table)
    drop = gravity_drop_degrees(original_gravity=first, present_gravity=now)
    # The slopes are those of the band's own factor; what the step to the next one may add has a row of its own.
    per_gravity = float(table.factor(drop)) * DEGREES_PER_GRAVITY
    water20 = water_kg_per_m3(20.0)

    def calculate(values: tuple[float, ...]) -> State:
        litres, shown_celsius, shown_original, shown_present = values
        original = saccharometer.corrected(shown_original, "original gravity")
        present = saccharometer.corrected(shown_present, "present gravity")
        temperature = corrections.thermometer.corrected(shown_celsius, "temperature")
        percent = require_percent((original - present) * per_gravity, "Strength of the wash")
        in_shell = litres * corrections.shell.factor(temperature) if corrections.shell else litres
        litres20 = in_shell * factor_to_20(percent20=percent, celsius=temperature)
        return State(litres20 * percent / 100.0, litres20 * present * water20 / 1000.0, litres20, percent)

    def gravity(name: str, value: float) -> Reading:
        return Reading(
            name=name,
            instrument=instruments.saccharometer,
            value=value,
            unit="relative density",
            standard_uncertainty=u.gravity,
            step=GRAVITY_STEP,
            formula="(original − present gravity) × 1000 × f",
            source=table.source,
            lasting_share=u.lasting.gravity,
        )

    readings = (
        dip_reading(litres_at_temperature, litres_per_mm, dip_mm, u, instruments),
        temperature_reading(celsius, u, instruments),
        gravity("original gravity", original_gravity),
        gravity("present gravity", present_gravity),
    )
    state = calculate(tuple(reading.value for reading in readings))
    liquid_celsius = corrections.thermometer.corrected(celsius, "temperature")
    steps = (
        *certificate_step("temperature", celsius, "°C", corrections.thermometer),
        *certificate_step("original gravity", original_gravity, "", saccharometer),
        *certificate_step("present gravity", present_gravity, "", saccharometer),
        ChainStep("Gravity drop", float(drop), "degrees", "(original − present gravity) × 1000", table.source),
        ChainStep("Strength", percent20, "% vol", "drop × f", table.source),
        *volume_steps(state, litres_at_temperature, liquid_celsius, corrections.shell),
    )
    rows = contributions(calculate, readings)
    calibration = calibration_row(litres_at_temperature, state, u, instruments)
    gravities = [row for row in rows if row.reading.endswith("gravity")]
    step = _step_row(table, float(drop), gravities, state, f"{first:.4f} to {now:.4f}")
    return closed_chain(state, steps, (*rows, *calibration, *step))


def _step_row(
    table: GravityTable, drop: float, gravities: list[Contribution], state: State, of: str
) -> tuple[Contribution, ...]:
    """What the step to the next factor adds where the drop lies near the edge of a band."""
    factor = float(table.factor(Decimal(repr(drop))))
    u_percent = combined(
        part
        for row in gravities
        for part in Component(row.reading, row.contribution_percent).split(
            lasting_share=row.lasting_share, lasting=row.instrument
        )
    )
    added = step_uncertainty_percent(table, drop_degrees=drop, u_degrees=u_percent / factor)
    if not drop or added <= LEAST_STEP * u_percent:
        return ()
    return (
        Contribution(
            reading="factor of the table",
            # The step is common to all gauges of one wash, which rest on the same two gravities.
            instrument=f"step of the factor table, gravities {of}",
            value=factor,
            unit="% vol a degree",
            standard_uncertainty=added / drop,
            sensitivity_lpa=drop * state.litres20 / 100.0,
            sensitivity_percent=drop,
            formula="the drop may belong to the next band",
            source=f"{table.source}; JCGM 101:2008",
            lasting_share=1.0,
        ),
    )
