"""Strength by volume, by mass and by density at 20 °C, with density in air kept apart from density in vacuum.

% vol is the volume of pure alcohol at 20 °C over the volume of the mixture at 20 °C, % mas the ratio of masses
(Council Directive 76/766/EEC, Annex points 1 and 2). Densities come from OIML R 22:1975. In air means as weighed in
air of 1.2 kg/m³ against weights of 8000 kg/m³ (conventional mass, OIML D 28; figures from memory). The official
laboratory alcohol table of a country decides where the law says so; this is the formula behind such tables.
"""

from dataclasses import dataclass
from typing import Final, NoReturn

from .errors import AirTakenForVacuum, OutOfRange, UnstatedBasis, require_finite, require_percent
from .formula import isotherm

REFERENCE_CELSIUS: Final = 20.0
AIR_KG_PER_M3: Final = 1.2
WEIGHTS_KG_PER_M3: Final = 8000.0
_AT_20: Final = isotherm(REFERENCE_CELSIUS)
ETHANOL_KG_PER_M3_20: Final = _AT_20.ethanol


@dataclass(frozen=True, slots=True, order=True)
class VacuumDensity:
    """A density in vacuum (true density), kg/m³."""

    kg_per_m3: float

    def __post_init__(self) -> None:
        _require_density(self.kg_per_m3)

    def in_air(self) -> "AirDensity":
        """The same liquid's density as weighed in air."""
        return AirDensity((self.kg_per_m3 - AIR_KG_PER_M3) / (1.0 - AIR_KG_PER_M3 / WEIGHTS_KG_PER_M3))


@dataclass(frozen=True, slots=True, order=True)
class AirDensity:
    """A density as weighed in air, kg/m³; about 1.05 less than in vacuum for spirit."""

    kg_per_m3: float

    def __post_init__(self) -> None:
        _require_density(self.kg_per_m3)

    def in_vacuum(self) -> VacuumDensity:
        """The same liquid's true density."""
        return VacuumDensity(self.kg_per_m3 * (1.0 - AIR_KG_PER_M3 / WEIGHTS_KG_PER_M3) + AIR_KG_PER_M3)


def mass_fraction_of_percent_vol(percent20: float, *, reference_celsius: float = REFERENCE_CELSIUS) -> float:
    """Mass fraction 0 to 1 of a strength in % vol, 0 to 100, at ``reference_celsius``; raises OutOfRange."""
    return isotherm(reference_celsius).mass_fraction_of_volume_fraction(percent20 / 100.0)


def percent_vol_of_mass_fraction(mass_fraction: float, *, reference_celsius: float = REFERENCE_CELSIUS) -> float:
    """Strength in % vol at ``reference_celsius`` of a mass fraction 0 to 1; raises OutOfRange."""
    return 100.0 * isotherm(reference_celsius).volume_fraction(mass_fraction)


def percent_mass_of_percent_vol(percent20: float) -> float:
    """% mas of a strength in % vol at 20 °C, 0 to 100; raises OutOfRange."""
    return 100.0 * mass_fraction_of_percent_vol(percent20)


def percent_vol_of_percent_mass(percent_mass: float) -> float:
    """% vol at 20 °C of a strength in % mas, 0 to 100; raises OutOfRange."""
    return percent_vol_of_mass_fraction(require_percent(percent_mass, "Strength by mass") / 100.0)


def density20_of_percent(percent20: float) -> VacuumDensity:
    """Density in vacuum at 20 °C of a strength in % vol at 20 °C, 0 to 100; raises OutOfRange."""
    return VacuumDensity(_AT_20.density(mass_fraction_of_percent_vol(percent20)))


def percent_of_density20(density: VacuumDensity) -> float:
    """Strength in % vol at 20 °C of a density in vacuum at 20 °C.

    Raises NoSuchMixture for a density no mixture has, AirTakenForVacuum for one in air, UnstatedBasis for a bare
    number.
    """
    if not isinstance(density, VacuumDensity):
        refuse_basis(density)
    return percent_vol_of_mass_fraction(_AT_20.mass_fraction(density.kg_per_m3))


def air_density20_of_percent(percent20: float) -> AirDensity:
    """Density in air at 20 °C of a strength in % vol at 20 °C, 0 to 100; raises OutOfRange."""
    return density20_of_percent(percent20).in_air()


def percent_of_air_density20(density: AirDensity) -> float:
    """Strength in % vol at 20 °C of a density in air at 20 °C; refusals as percent_of_density20."""
    if not isinstance(density, AirDensity):
        refuse_basis(density)
    return percent_of_density20(density.in_vacuum())


def grams_per_litre(percent20: float) -> float:
    """Grams of ethanol in a litre at 20 °C of a strength in % vol at 20 °C, 0 to 100; raises OutOfRange."""
    return require_percent(percent20, "Strength") / 100.0 * ETHANOL_KG_PER_M3_20


def refuse_basis(density: object) -> NoReturn:
    """Raise the refusal that fits a density of the wrong basis."""
    if isinstance(density, AirDensity):
        raise AirTakenForVacuum(
            f"{density.kg_per_m3:g} kg/m³ is a density in air where one in vacuum is needed: convert it first, "
            "or the strength comes out up to 0.8 % vol too high."
        )
    if isinstance(density, VacuumDensity):
        raise AirTakenForVacuum(
            f"{density.kg_per_m3:g} kg/m³ is a density in vacuum where one in air is needed: convert it first."
        )
    raise UnstatedBasis(
        f"Say whether the density {density} is in air or in vacuum: the meter's manual or display tells."
    )


def _require_density(kg_per_m3: float) -> None:
    require_finite(kg_per_m3, "Density")
    if not 500.0 <= kg_per_m3 <= 1500.0:
        raise OutOfRange(
            f"A density of {kg_per_m3:g} kg/m³ is not that of spirit, wash or water: enter kg/m³ "
            "(0.94805 g/cm³ is 948.05 kg/m³)."
        )
