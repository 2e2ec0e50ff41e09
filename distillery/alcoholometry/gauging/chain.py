"""How a gauge came about: each step from reading to alcohol, and what each reading adds to the uncertainty.

One row for each reading, because one instrument's error runs through the whole calculation: the thermometer corrects
strength and volume both, so its two effects are already added with their signs in its single sensitivity (law of
propagation, JCGM 100:2008, 5.1.2; sensitivities by central differences on the calculation itself, 5.1.3).
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from typing import Final

from distillery.alcoholometry.errors import OutOfRange, require_not_negative
from distillery.alcoholometry.obscuration import Obscuration
from distillery.alcoholometry.quantity import MICROLITRES_PER_LITRE, Quantity
from distillery.alcoholometry.reading import UNCORRECTED, Certificate
from distillery.alcoholometry.uncertainty import Component, combined, sensitivity
from distillery.alcoholometry.volume import Shell

PROPAGATION: Final = "JCGM 100:2008, 5.1.2 and 5.1.3"


@dataclass(frozen=True, slots=True)
class LastingShares:
    """What share (0 to 1) of each instrument's variance stays from reading to reading: what its certificate leaves
    open (JCGM 100:2008, 4.3.3 and F.1.2.3). The rest is chance. Without a certificate nothing is known to last.
    """

    dip_mm: float = 0.0
    celsius: float = 0.0
    percent: float = 0.0
    gravity: float = 0.0
    kilograms: float = 0.0

    def __post_init__(self) -> None:
        for field in fields(self):
            if not 0.0 <= getattr(self, field.name) <= 1.0:
                raise OutOfRange(f"The lasting share of {field.name} is {getattr(self, field.name):g}, not 0 to 1.")


ALL_CHANCE: Final = LastingShares()


@dataclass(frozen=True, slots=True)
class InstrumentUncertainty:
    """Standard uncertainties of one reading each: dip in mm, thermometer in °C, alcoholometer in the unit of its scale
    (% vol), gravity in relative density, scale in kg; ``calibration_share`` of the vessel's table, share of the volume.
    ``lasting`` says which part of each is common to all readings taken with the instrument.
    """

    dip_mm: float = 0.85
    celsius: float = 0.08
    percent: float = 0.06
    gravity: float = 0.0002
    kilograms: float = 0.1
    calibration_share: float = 0.0
    lasting: LastingShares = ALL_CHANCE

    def __post_init__(self) -> None:
        for field in fields(self):
            if field.name == "lasting":
                continue
            require_not_negative(getattr(self, field.name), f"Standard uncertainty ({field.name})")


@dataclass(frozen=True, slots=True)
class InstrumentNames:
    """Which instrument each reading was taken with: two gauges that name the same one can share its lasting error."""

    dip: str = "dip rod"
    thermometer: str = "thermometer"
    alcoholometer: str = "alcoholometer"
    saccharometer: str = "saccharometer"
    scale: str = "scale"
    vessel: str = "vessel calibration"
    meter: str = "volume as recorded"
    strength: str = "strength as recorded"


@dataclass(frozen=True, slots=True)
class Corrections:
    """What is corrected before or beside the reading: thermometer, saccharometer and scale by certificate, vessel by
    shell, obscuration. The alcoholometer carries its own certificate.
    """

    thermometer: Certificate = UNCORRECTED
    saccharometer: Certificate = UNCORRECTED
    scale: Certificate = UNCORRECTED
    shell: Shell | None = None
    obscuration: Obscuration | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """One input of a gauge: what was read, with what, its unit, standard uncertainty, and the step to move it by."""

    name: str
    instrument: str
    value: float
    unit: str
    standard_uncertainty: float
    step: float
    formula: str
    source: str
    # How far one unit of the reading moves the calculation's own input (litres per mm for a dip).
    input_per_unit: float = 1.0
    # What to show where the calculation's input is not what was read (the dip in mm).
    shown: float | None = None
    lasting_share: float = 0.0


@dataclass(frozen=True, slots=True)
class Contribution:
    """One reading's part in the uncertainty: sensitivities in LPA, in % vol, in litres at 20 °C and in kilograms per
    unit of the reading.
    """

    reading: str
    instrument: str
    value: float
    unit: str
    standard_uncertainty: float
    sensitivity_lpa: float
    sensitivity_percent: float
    formula: str
    source: str
    lasting_share: float = 0.0
    sensitivity_litres20: float = 0.0
    sensitivity_kilograms: float = 0.0

    @property
    def contribution_lpa(self) -> float:
        """Signed: what one standard uncertainty more on this reading does to the LPA."""
        return self.sensitivity_lpa * self.standard_uncertainty

    @property
    def contribution_percent(self) -> float:
        """Signed: what one standard uncertainty more on this reading does to the strength, % vol."""
        return self.sensitivity_percent * self.standard_uncertainty


@dataclass(frozen=True, slots=True)
class ChainStep:
    """One line of the way from reading to alcohol: what it is, its value and unit, by which formula and source."""

    name: str
    value: float
    unit: str
    formula: str
    source: str


@dataclass(frozen=True, slots=True)
class GaugeChain:
    """A gauge with all that made it."""

    quantity: Quantity
    steps: tuple[ChainStep, ...]
    contributions: tuple[Contribution, ...]
    heel_uncertainty_ul: float = 0.0

    @property
    def uncertainty_percent(self) -> float:
        """Standard uncertainty of the strength, % vol."""
        return _together(self.contributions, lambda row: row.sensitivity_percent)

    @property
    def uncertainty_litres20(self) -> float:
        """Standard uncertainty of the bulk, litres at 20 °C."""
        return _together(self.contributions, lambda row: row.sensitivity_litres20)

    @property
    def uncertainty_kilograms(self) -> float:
        """Standard uncertainty of the mass, kg."""
        return _together(self.contributions, lambda row: row.sensitivity_kilograms)

    def components(self, *, gauge: str, lasting_share: Mapping[str, float] | None = None) -> tuple[Component, ...]:
        """Signed contributions in µL by source, for the covariance of this gauge with another.

        ``gauge`` names this gauge, so that its chance errors are its own. ``lasting_share`` says, by instrument name,
        what share (0 to 1) of an instrument's variance is an error that stays from reading to reading (its
        calibration), where another is wanted than the readings came with: that part carries the instrument's name
        alone and is common to all gauges made with it.
        """
        parts: list[Component] = []
        for row in self.contributions:
            whole = row.contribution_lpa * MICROLITRES_PER_LITRE
            share = (lasting_share or {}).get(row.instrument, row.lasting_share)
            parts += Component(f"{gauge}: {row.reading}", whole).split(lasting_share=share, lasting=row.instrument)
        if self.heel_uncertainty_ul:
            parts.append(Component(f"{gauge}: heel", self.heel_uncertainty_ul))
        return tuple(parts)


@dataclass(frozen=True, slots=True)
class State:
    """What the calculation of a gauge gives: litres of pure alcohol, true kg, litres and % vol at 20 °C."""

    lpa: float
    kilograms: float
    litres20: float
    percent20: float


def contributions(
    calculate: Callable[[tuple[float, ...]], State], readings: tuple[Reading, ...]
) -> tuple[Contribution, ...]:
    """Each reading's sensitivities and part in the uncertainty, by differences on ``calculate``."""
    values = tuple(reading.value for reading in readings)

    def row(position: int, reading: Reading) -> Contribution:
        def moved(value: float) -> tuple[float, ...]:
            state = calculate((*values[:position], value, *values[position + 1 :]))
            return state.lpa, state.percent20, state.litres20, state.kilograms

        by_lpa, by_percent, by_litres20, by_kilograms = sensitivity(moved, reading.value, step=reading.step)
        return Contribution(
            reading=reading.name,
            instrument=reading.instrument,
            value=reading.value if reading.shown is None else reading.shown,
            unit=reading.unit,
            standard_uncertainty=reading.standard_uncertainty,
            sensitivity_lpa=by_lpa * reading.input_per_unit,
            sensitivity_percent=by_percent * reading.input_per_unit,
            formula=reading.formula,
            source=reading.source,
            lasting_share=reading.lasting_share,
            sensitivity_litres20=by_litres20 * reading.input_per_unit,
            sensitivity_kilograms=by_kilograms * reading.input_per_unit,
        )

    return tuple(row(position, reading) for position, reading in enumerate(readings))


def uncertainty_ul(rows: tuple[Contribution, ...]) -> float:
    """Standard uncertainty of the alcohol in µL: what lasts in one instrument adds with sign, all else by squares."""
    return _together(rows, lambda row: row.sensitivity_lpa) * MICROLITRES_PER_LITRE


def _together(rows: tuple[Contribution, ...], sensitivity_of: Callable[[Contribution], float]) -> float:
    return combined(
        part
        for row in rows
        for part in Component(row.reading, sensitivity_of(row) * row.standard_uncertainty).split(
            lasting_share=row.lasting_share, lasting=row.instrument
        )
    )
