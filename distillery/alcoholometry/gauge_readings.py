"""The readings a gauge is made of, as rows of its chain, and the chain closed into a quantity.

One place for what the kinds of gauge share: how a dip, a temperature and a hydrometer enter, what an empty vessel
is, and by which formulas and sources the page explains the figures.
"""

from dataclasses import replace
from typing import Final

from .chain import (
    PROPAGATION,
    ChainStep,
    Contribution,
    GaugeChain,
    InstrumentNames,
    InstrumentUncertainty,
    Reading,
    State,
    uncertainty_ul,
)
from .errors import OutOfRange, require_finite, require_not_negative
from .obscuration import Obscuration
from .quantity import NOTHING, quantity_of
from .volume import Shell

R22: Final = "OIML R 22:1975, general formula"
AIR: Final = "OIML D 28, conventional mass: air 1.2 kg/m³, weights 8000 kg/m³"
DEFINITION: Final = "Council Directive 76/766/EEC, Annex points 1 and 2"
STEP: Final = 0.001
AS_SPECIFIED: Final = InstrumentUncertainty()
UNNAMED: Final = InstrumentNames()


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
    )


def temperature_reading(celsius: float, u: InstrumentUncertainty, names: InstrumentNames) -> Reading:
    """The temperature: one row for all it corrects, so that its effects add with their signs."""
    formula = "strength and volume to 20 °C, effects added with sign"
    return Reading("temperature", names.thermometer, celsius, "°C", u.celsius, STEP, formula, R22)


def hydrometer_reading(reading: float | None, u: InstrumentUncertainty, names: InstrumentNames) -> Reading:
    """The hydrometer's reading as shown; raises OutOfRange when a vessel with liquid in it has none."""
    if reading is None:
        raise OutOfRange("The vessel is not empty: take a hydrometer reading and enter it.")
    require_finite(reading, "Hydrometer reading")
    return Reading(
        "hydrometer", names.alcoholometer, reading, "% vol", u.percent, STEP, "reading to strength at 20 °C", R22
    )


def obscuration_reading(obscuration: Obscuration | None) -> tuple[Reading, ...]:
    """The obscuration as an input of its own, where there is one."""
    if obscuration is None:
        return ()
    return (
        Reading(
            name="obscuration",
            instrument=f"obscuration of {obscuration.determined_on.isoformat()}",
            value=obscuration.percent,
            unit="% vol",
            standard_uncertainty=obscuration.standard_uncertainty,
            step=STEP,
            formula="true = apparent + obscuration",
            source=obscuration.source,
        ),
    )


def calibration_row(
    litres: float, lpa: float, u: InstrumentUncertainty, names: InstrumentNames
) -> tuple[Contribution, ...]:
    """What the vessel's own table adds, where its uncertainty is known: alcohol is proportional to volume."""
    if not u.calibration_share:
        return ()
    return (
        Contribution(
            reading="vessel calibration",
            instrument=names.vessel,
            value=litres,
            unit="L",
            standard_uncertainty=u.calibration_share * litres,
            sensitivity_lpa=lpa / litres,
            sensitivity_percent=0.0,
            formula="litres by dip × share",
            source=PROPAGATION,
        ),
    )


def strength_steps(apparent_percent: float, obscuration: Obscuration | None) -> tuple[ChainStep, ...]:
    """From reading to true strength."""
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
