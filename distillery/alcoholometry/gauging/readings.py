"""The readings a gauge is made of, as rows of its chain, and the chain closed into a quantity.

One place for what the kinds of gauge share: how a dip, a temperature and a hydrometer enter, what an empty vessel
is, and by which formulas and sources the page explains the figures.
"""

from dataclasses import replace
from typing import Final

from distillery.alcoholometry.errors import OutOfRange, require_finite, require_not_negative
from distillery.alcoholometry.gauging.chain import (
    PROPAGATION,
    ChainStep,
    Contribution,
    Corrections,
    GaugeChain,
    InstrumentNames,
    InstrumentUncertainty,
    Reading,
    State,
    uncertainty_ul,
)
from distillery.alcoholometry.obscuration import Obscuration
from distillery.alcoholometry.quantity import NOTHING, quantity_of
from distillery.alcoholometry.reading import Certificate, DensityMeter, StrengthInstrument
from distillery.alcoholometry.volume import Shell

R22: Final = "OIML R 22:1975, general formula"
AIR: Final = "OIML D 28, conventional mass: air 1.2 kg/m³, weights 8000 kg/m³"
DEFINITION: Final = "Council Directive 76/766/EEC, Annex points 1 and 2"
STEP: Final = 0.001
# Of a strength instrument, by what its scale is in: the unit shown, and how far to move it for a slope.
SCALE_UNITS: Final = {
    "percent_vol": ("% vol", STEP),
    "percent_mass": ("% mas", STEP),
    "us_proof": ("US proof", STEP),
    "density_vacuum": ("kg/m³", STEP),
    "density_air": ("kg/m³", STEP),
    "relative_density": ("relative density", 1e-6),
}
AS_SPECIFIED: Final = InstrumentUncertainty()
UNNAMED: Final = InstrumentNames()


def unit_of_scale(instrument: StrengthInstrument) -> str:
    """The unit a strength instrument is read in."""
    return "kg/m³" if isinstance(instrument, DensityMeter) else SCALE_UNITS[instrument.scale][0]


def dip_reading(
    litres: float, litres_per_mm: float, dip_mm: float | None, u: InstrumentUncertainty, names: InstrumentNames
) -> Reading:
    """The dip: read in mm, entering the calculation as litres of the vessel's calibration."""
    require_not_negative(litres_per_mm, "Litres per mm of dip")
    return Reading(
        name="dip",
        instrument=names.dip,
        value=litres,
        unit="mm",
        standard_uncertainty=u.dip_mm,
        step=min(STEP, litres / 2),
        formula="calibration of the vessel, linear between its points",
        source="the vessel's calibration",
        input_per_unit=litres_per_mm,
        shown=dip_mm,
        lasting_share=u.lasting.dip_mm,
    )


def volume_reading(litres: float, u_litres: float) -> Reading:
    """Litres as a meter measured them, or as a table says for a dip, at the liquid's own temperature; sure to
    ``u_litres``."""
    return Reading(
        name="volume",
        instrument="",
        value=litres,
        unit="L",
        standard_uncertainty=float(require_not_negative(u_litres, "Uncertainty of the volume")),
        step=min(STEP, litres / 2),
        formula="litres as measured",
        source="the meter, or the table of the dip",
    )


def temperature_reading(celsius: float, u: InstrumentUncertainty, names: InstrumentNames) -> Reading:
    """The temperature: one row for all it corrects, so that its effects add with their signs."""
    formula = "strength and volume to 20 °C, effects added with sign"
    return Reading(
        name="temperature",
        instrument=names.thermometer,
        value=celsius,
        unit="°C",
        standard_uncertainty=u.celsius,
        step=STEP,
        formula=formula,
        source=R22,
        lasting_share=u.lasting.celsius,
    )


def hydrometer_reading(
    reading: float | None, instrument: StrengthInstrument, u: InstrumentUncertainty, names: InstrumentNames
) -> Reading:
    """What the strength instrument showed, in its unit; raises OutOfRange where a vessel with liquid in it has none."""
    if reading is None:
        raise OutOfRange("The vessel is not empty: take a hydrometer reading and enter it.")
    require_finite(reading, "Hydrometer reading")
    step = STEP if isinstance(instrument, DensityMeter) else SCALE_UNITS[instrument.scale][1]
    return Reading(
        name="hydrometer",
        instrument=names.alcoholometer,
        value=reading,
        unit=unit_of_scale(instrument),
        standard_uncertainty=u.percent,
        step=step,
        formula="reading to strength at 20 °C",
        source=R22,
        lasting_share=u.lasting.percent,
    )


def weight_reading(
    name: str, kilograms: float, step: float, u: InstrumentUncertainty, names: InstrumentNames
) -> Reading:
    """A weight in air as the scale showed it."""
    return Reading(
        name=name,
        instrument=names.scale,
        value=kilograms,
        unit="kg",
        standard_uncertainty=u.kilograms,
        step=step,
        formula="gross − tare",
        source=AIR,
        lasting_share=u.lasting.kilograms,
    )


def obscuration_reading(obscuration: Obscuration | None) -> tuple[Reading, ...]:
    """The obscuration as an input of its own, where there is one."""
    if obscuration is None:
        return ()
    return (
        Reading(
            name="obscuration",
            instrument=obscuration.name,
            value=obscuration.percent,
            unit="% vol",
            standard_uncertainty=obscuration.standard_uncertainty,
            step=STEP,
            formula="true = apparent + obscuration",
            source=obscuration.source,
            # One sample was distilled for all gauges of the liquid: whatever is wrong with it is wrong in all.
            lasting_share=1.0,
        ),
    )


def calibration_row(
    litres: float, state: State, u: InstrumentUncertainty, names: InstrumentNames
) -> tuple[Contribution, ...]:
    """What the vessel's own table adds, where its uncertainty is known: all it holds is proportional to volume."""
    if not u.calibration_share:
        return ()
    return (
        Contribution(
            reading="vessel calibration",
            instrument=names.vessel,
            value=litres,
            unit="L",
            standard_uncertainty=u.calibration_share * litres,
            sensitivity_lpa=state.lpa / litres,
            sensitivity_percent=0.0,
            formula="litres by dip × share",
            source=PROPAGATION,
            lasting_share=1.0,
            sensitivity_litres20=state.litres20 / litres,
            sensitivity_kilograms=state.kilograms / litres,
        ),
    )


def certificate_step(name: str, reading: float, unit: str, certificate: Certificate) -> tuple[ChainStep, ...]:
    """A reading after its certificate, where the instrument has one with points."""
    if not certificate.points:
        return ()
    corrected = certificate.corrected(reading, name)
    correction = corrected - reading
    formula = f"{reading:.10g} {'−' if correction < 0 else '+'} {abs(correction):.4g}, linear between its points"
    return (ChainStep(f"{name[0].upper()}{name[1:]}, corrected", corrected, unit, formula, certificate.source),)


def reading_steps(
    celsius: float, reading: float | None, instrument: StrengthInstrument, corrections: Corrections
) -> tuple[ChainStep, ...]:
    """Thermometer and strength instrument after their certificates, in the order in which they are applied."""
    name = "density displayed" if isinstance(instrument, DensityMeter) else "hydrometer reading"
    shown = (
        () if reading is None else certificate_step(name, reading, unit_of_scale(instrument), instrument.certificate)
    )
    return (*certificate_step("temperature", celsius, "°C", corrections.thermometer), *shown)


def strength_steps(
    apparent_percent: float, obscuration: Obscuration | None, instrument: StrengthInstrument
) -> tuple[ChainStep, ...]:
    """From reading to true strength."""
    if isinstance(instrument, DensityMeter):
        formula = f"density in {instrument.basis}, solved for strength at {instrument.celsius:g} °C of its cell"
    else:
        formula = "density of the mark × (1 − g × (t − T0)), solved for strength at t"
    if obscuration is None:
        return (ChainStep("True strength", apparent_percent, "% vol", formula, R22),)
    return (
        ChainStep("Apparent strength", apparent_percent, "% vol", formula, R22),
        ChainStep("Obscuration", obscuration.percent, "% vol", "true − apparent", obscuration.source),
        ChainStep(
            "True strength",
            apparent_percent + obscuration.percent,
            "% vol",
            "apparent + obscuration",
            obscuration.source,
        ),
    )


def volume_steps(state: State, litres: float, celsius: float, shell: Shell | None) -> tuple[ChainStep, ...]:
    """From litres by dip to pure alcohol; ``celsius`` is the temperature after the thermometer's certificate."""
    in_shell = litres * shell.factor(celsius) if shell else litres
    shell_step = (
        ChainStep("Litres in the warm shell", in_shell, "L", "litres × (1 + e × (t − Tc))", "the vessel's calibration"),
    )
    return (
        *(shell_step if shell else ()),
        ChainStep("Factor to 20 °C", state.litres20 / in_shell, "", "density at t / density at 20 °C", R22),
        ChainStep("Bulk at 20 °C", state.litres20, "L", "litres × factor", R22),
        alcohol_step(state),
    )


def alcohol_step(state: State) -> ChainStep:
    """The last step of every chain."""
    return ChainStep("Pure alcohol", state.lpa, "LPA", "bulk at 20 °C × strength / 100", DEFINITION)


def empty_chain(heel_uncertainty_ul: float) -> GaugeChain:
    """An empty vessel: nothing, as uncertain as its heel."""
    heel = float(require_not_negative(heel_uncertainty_ul, "Uncertainty of the heel"))
    nothing = replace(NOTHING, uncertainty_ul=heel)
    return GaugeChain(nothing, steps=(), contributions=(), heel_uncertainty_ul=heel)


def closed_chain(state: State, steps: tuple[ChainStep, ...], rows: tuple[Contribution, ...]) -> GaugeChain:
    """The chain with its result in whole numbers and the uncertainty of the alcohol."""
    quantity = quantity_of(
        lpa=state.lpa,
        kilograms=state.kilograms,
        litres20=state.litres20,
        percent20=state.percent20,
        uncertainty_ul=uncertainty_ul(rows),
    )
    return GaugeChain(quantity, steps=steps, contributions=rows)
