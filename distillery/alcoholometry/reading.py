"""From what a glass instrument or a density meter showed to the true strength at 20 °C.

A scale mark stands for the density of a mixture at the instrument's own reference temperature; away from it the glass
has swollen or shrunk, so ``density of the liquid = density of the mark × (1 − g × (t − T0))``, which is solved for the
strength at the liquid's temperature (OIML R 22:1975; soda-lime glass g = 25e-6 per °C). Certificate corrections are
applied to reading and thermometer first (as 27 CFR 30.23 has it).
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal, get_args

from .errors import (
    NoReferenceTemperature,
    OutOfRange,
    OutsideCertificate,
    UnstatedBasis,
    WrongScale,
    require_finite,
    require_not_negative,
)
from .formula import isotherm
from .strength import (
    REFERENCE_CELSIUS,
    AirDensity,
    VacuumDensity,
    percent_vol_of_mass_fraction,
    refuse_basis,
)

SODA_LIME_PER_CELSIUS: Final = 25e-6
SIXTY_FAHRENHEIT: Final = (60.0 - 32.0) / 1.8

Scale = Literal["percent_vol", "percent_mass", "us_proof", "density_vacuum", "density_air", "relative_density"]


@dataclass(frozen=True, slots=True)
class Certificate:
    """Corrections to add to a reading, in its unit, at rising readings; linear between the points.

    No points means no correction. Outside the points the certificate says nothing: OutsideCertificate. ``source`` says
    which certificate it is, as the chain of a gauge shows it.
    """

    points: tuple[tuple[float, float], ...] = ()
    source: str = "the instrument's certificate"

    def __post_init__(self) -> None:
        for reading, correction in self.points:
            require_finite(reading, "A reading of the certificate")
            require_finite(correction, "A correction of the certificate")
        if any(later[0] <= earlier[0] for earlier, later in pairwise(self.points)):
            raise OutsideCertificate("The certificate's readings must rise from line to line: put them in order.")

    def corrected(self, reading: float, what: str = "reading") -> float:
        """The reading with its correction added; raises OutsideCertificate or NotANumber."""
        require_finite(reading, f"The {what}")
        if not self.points:
            return reading
        if reading == self.points[0][0]:
            return reading + self.points[0][1]
        for (low, at_low), (high, at_high) in pairwise(self.points):
            if low <= reading <= high:
                return reading + at_low + (at_high - at_low) * (reading - low) / (high - low)
        raise OutsideCertificate(
            f"The certificate covers {self.points[0][0]:g} to {self.points[-1][0]:g}, not a {what} of {reading:g}: "
            "use an instrument certified there."
        )


UNCORRECTED: Final = Certificate()


@dataclass(frozen=True, slots=True)
class Alcoholometer:
    """A glass hydrometer: what its scale means, where it is right, and how its glass swells.

    ``reference_celsius`` is the temperature the scale is made for, ``glass_per_celsius`` the cubic expansion of the
    glass. ``scale``: % vol or % mas at its own reference temperature; US proof (twice the % vol at 60 °F); density in
    kg/m³ in vacuum or in air; density relative to water at the reference temperature.
    Raises NoReferenceTemperature, WrongScale or OutOfRange.
    """

    reference_celsius: float | None = REFERENCE_CELSIUS
    scale: Scale = "percent_vol"
    glass_per_celsius: float = SODA_LIME_PER_CELSIUS
    certificate: Certificate = UNCORRECTED

    def __post_init__(self) -> None:
        if self.reference_celsius is None:
            raise NoReferenceTemperature(
                "This instrument has no reference temperature on record: read it off the instrument (20 °C, 15 °C, "
                "60 °F) and enter it before using a reading."
            )
        isotherm(self.reference_celsius)
        if self.scale not in get_args(Scale):
            raise WrongScale(f"The scale {self.scale!r} is not known: choose one of {', '.join(get_args(Scale))}.")
        require_not_negative(self.glass_per_celsius, "Expansion of the glass")
        if self.glass_per_celsius > 1e-3:
            raise OutOfRange(
                f"An expansion of {self.glass_per_celsius:g} per °C is not that of glass: soda-lime glass has 25e-6."
            )

    @property
    def celsius(self) -> float:
        """The reference temperature, known to be recorded."""
        if self.reference_celsius is None:
            raise NoReferenceTemperature("This instrument has no reference temperature on record.")
        return self.reference_celsius

    def density_of_mark(self, reading: float) -> float:
        """Density in vacuum, kg/m³, that a certified reading stands for at the reference temperature."""
        at_reference = isotherm(self.celsius)
        match self.scale:
            case "percent_vol":
                return at_reference.density(at_reference.mass_fraction_of_volume_fraction(reading / 100.0))
            case "percent_mass":
                return at_reference.density(reading / 100.0)
            case "us_proof":
                at_sixty = isotherm(SIXTY_FAHRENHEIT)
                return at_reference.density(at_sixty.mass_fraction_of_volume_fraction(reading / 200.0))
            case "density_vacuum":
                return VacuumDensity(reading).kg_per_m3
            case "density_air":
                return AirDensity(reading).in_vacuum().kg_per_m3
            case "relative_density":
                return require_not_negative(reading, "Relative density") * at_reference.water

    def mark_of_density(self, density: float) -> float:
        """The mark that stands for a density in vacuum, kg/m³, at the reference temperature."""
        at_reference = isotherm(self.celsius)
        match self.scale:
            case "percent_vol":
                return 100.0 * at_reference.volume_fraction(at_reference.mass_fraction(density))
            case "percent_mass":
                return 100.0 * at_reference.mass_fraction(density)
            case "us_proof":
                return 200.0 * isotherm(SIXTY_FAHRENHEIT).volume_fraction(at_reference.mass_fraction(density))
            case "density_vacuum":
                return density
            case "density_air":
                return VacuumDensity(density).in_air().kg_per_m3
            case "relative_density":
                return density / at_reference.water

    def density_of_liquid(self, *, reading: float, celsius: float) -> float:
        """Density in vacuum, kg/m³, of the liquid at ``celsius`` in which the instrument shows ``reading``."""
        mark = self.density_of_mark(self.certificate.corrected(reading, "hydrometer reading"))
        return mark * self._glass(celsius)

    def _glass(self, celsius: float) -> float:
        return 1.0 - self.glass_per_celsius * (celsius - self.celsius)


@dataclass(frozen=True, slots=True)
class DensityMeter:
    """An oscillating-tube meter: no glass term, but its display is in air or in vacuum and that must be said.

    ``basis`` 'air' or 'vacuum'; ``cell_celsius`` the temperature it measures at, whatever the vessel's is;
    ``certificate`` in kg/m³. Raises UnstatedBasis, NoReferenceTemperature or OutOfRange.
    """

    basis: Literal["air", "vacuum"]
    certificate: Certificate = UNCORRECTED
    cell_celsius: float | None = REFERENCE_CELSIUS

    def __post_init__(self) -> None:
        if self.basis not in ("air", "vacuum"):
            raise UnstatedBasis(
                f"Say whether this meter displays density in air or in vacuum, not {self.basis!r}: its manual tells."
            )
        isotherm(self.celsius)

    @property
    def celsius(self) -> float:
        """The temperature of its cell, known to be recorded."""
        if self.cell_celsius is None:
            raise NoReferenceTemperature(
                "The temperature this density meter measures at is not on record: enter what its cell is kept at, "
                "20 °C where the duty strength rests on it."
            )
        return self.cell_celsius

    def density(self, kg_per_m3: float) -> VacuumDensity:
        """Density in vacuum for what the meter displays, kg/m³."""
        corrected = self.certificate.corrected(kg_per_m3, "density")
        return AirDensity(corrected).in_vacuum() if self.basis == "air" else VacuumDensity(corrected)


StrengthInstrument = Alcoholometer | DensityMeter
TWENTY_DEGREE_GLASS: Final = Alcoholometer()


def true_percent(
    *,
    reading_percent: float,
    celsius: float,
    instrument: Alcoholometer = TWENTY_DEGREE_GLASS,
    thermometer: Certificate = UNCORRECTED,
) -> float:
    """True strength, % vol at 20 °C, of a liquid at ``celsius`` (-20 to 40) in which a % vol instrument shows a
    reading.

    OIML R 22:1975. Raises OutOfRange, NoSuchMixture (usually a wrong temperature or a wrong instrument), WrongScale for
    an instrument not graduated in % vol, OutsideCertificate, NotANumber.
    """
    if instrument.scale != "percent_vol":
        raise WrongScale(
            f"This instrument is graduated in {instrument.scale}, not in % vol: enter the reading in its own unit."
        )
    return true_percent_of_reading(
        reading=reading_percent, celsius=celsius, instrument=instrument, thermometer=thermometer
    )


def true_percent_of_reading(
    *, reading: float, celsius: float, instrument: Alcoholometer, thermometer: Certificate = UNCORRECTED
) -> float:
    """True strength, % vol at 20 °C, of a reading in the instrument's own unit; refusals as true_percent."""
    liquid_celsius = thermometer.corrected(celsius, "temperature")
    at_liquid = isotherm(liquid_celsius)
    density = instrument.density_of_liquid(reading=reading, celsius=liquid_celsius)
    return percent_vol_of_mass_fraction(at_liquid.mass_fraction(density))


def percent_shown_by(*, reading: float, celsius: float, instrument: StrengthInstrument) -> float:
    """Apparent strength, % vol at 20 °C, by whichever instrument the strength is read with, in its own unit.

    ``celsius`` is the liquid's temperature, already corrected: glass floats in it, while a meter brings its sample to
    the temperature of its own cell. Refusals as true_percent_of_reading and percent_of_density.
    """
    if isinstance(instrument, DensityMeter):
        return percent_of_density(density=instrument.density(reading), celsius=instrument.celsius)
    return true_percent_of_reading(reading=reading, celsius=celsius, instrument=instrument)


def shown_reading(*, percent20: float, celsius: float, instrument: Alcoholometer = TWENTY_DEGREE_GLASS) -> float:
    """What the instrument should show, in its own unit and before its certificate, in a liquid of true strength
    ``percent20`` at ``celsius``: the inverse of true_percent_of_reading. Raises OutOfRange or NoSuchMixture.
    """
    mass_fraction = isotherm(REFERENCE_CELSIUS).mass_fraction_of_volume_fraction(percent20 / 100.0)
    return instrument.mark_of_density(isotherm(celsius).density(mass_fraction) / instrument._glass(celsius))


def percent_of_density(*, density: VacuumDensity, celsius: float, thermometer: Certificate = UNCORRECTED) -> float:
    """True strength, % vol at 20 °C, of a liquid with this density in vacuum at ``celsius`` (-20 to 40).

    Where the law asks for a meter measuring at 20 °C the result from another temperature is an aid, not the account.
    Raises NoSuchMixture, AirTakenForVacuum, UnstatedBasis, OutOfRange.
    """
    if not isinstance(density, VacuumDensity):
        refuse_basis(density)
    at_liquid = isotherm(thermometer.corrected(celsius, "temperature"))
    return percent_vol_of_mass_fraction(at_liquid.mass_fraction(density.kg_per_m3))
