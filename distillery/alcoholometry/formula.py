"""Density of ethanol and water by the general formula of the international alcoholometric tables.

OIML R 22:1975, general formula; the same numbers stand in Council Directive 76/766/EEC, Annex point 4.
Densities are in vacuum, kg/m³; valid from -20 to 40 °C and from pure water (below 0 °C: from the freezing limit,
which the formula does not give) to pure ethanol. The original temperature scale is IPTS-68; its shift to ITS-90,
about 0.005 °C at 20 °C, is left out.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from .errors import NoSuchMixture, OutOfRange, require_finite

LOWEST_CELSIUS: Final = -20.0
HIGHEST_CELSIUS: Final = 40.0
# A density brought to air and back differs in its last digits; this is not a measurable excess (kg/m³).
ROUND_OFF: Final = 1e-9

A: Final = (
    9.982012300e2,
    -1.929769495e2,
    3.891238958e2,
    -1.668103923e3,
    1.352215441e4,
    -8.829278388e4,
    3.062874042e5,
    -6.138381234e5,
    7.470172998e5,
    -5.478461354e5,
    2.234460334e5,
    -3.903285426e4,
)
B: Final = (-2.0618513e-1, -5.2682542e-3, 3.6130013e-5, -3.8957702e-7, 7.1693540e-9, -9.9739231e-11)
C: Final = (
    (
        1.693443461530087e-1,
        -1.046914743455169e1,
        7.196353469546523e1,
        -7.047478054272792e2,
        3.924090430035045e3,
        -1.210164659068747e4,
        2.248646550400788e4,
        -2.605562982188164e4,
        1.852373922069467e4,
        -7.420201433430137e3,
        1.285617841998974e3,
    ),
    (
        -1.193013005057010e-2,
        2.517399633803461e-1,
        -2.170575700536993,
        1.353034988843029e1,
        -5.029988758547014e1,
        1.096355666577570e2,
        -1.422753946421155e2,
        1.080435942856230e2,
        -4.414153236817392e1,
        7.442971530188783,
    ),
    (
        -6.802995733503803e-4,
        1.876837790289664e-2,
        -2.002561813734156e-1,
        1.022992966719220,
        -2.895696483903638,
        4.810060584300675,
        -4.672147440794683,
        2.458043105903461,
        -5.411227621436812e-1,
    ),
    (4.075376675622027e-6, -8.763058573471110e-6, 6.515031360099368e-6, -1.515784836987210e-6),
    (-2.788074354782409e-8, 1.345612883493354e-8),
)

# Per power of the mass fraction, the powers of (t - 20), highest first: what Horner's rule wants.
_BY_POWER: Final = (
    (*reversed(B), A[0]),
    *(tuple(reversed([A[k], *(family[k - 1] for family in C if len(family) >= k)])) for k in range(1, len(A))),
)


@dataclass(frozen=True, slots=True)
class Isotherm:
    """The formula collapsed to one polynomial in the mass fraction at ``celsius`` (coefficients highest first)."""

    celsius: float
    coefficients: tuple[float, ...]
    water: float
    ethanol: float

    def density(self, mass_fraction: float) -> float:
        """Density in vacuum, kg/m³, of a mixture of ``mass_fraction`` 0 to 1 ethanol; raises OutOfRange."""
        require_mass_fraction(mass_fraction)
        return _horner(self.coefficients, mass_fraction)

    def mass_fraction(self, density: float) -> float:
        """Mass fraction 0 to 1 of the mixture with this density in vacuum, kg/m³; raises NoSuchMixture."""
        if not self.ethanol < density < self.water:
            require_finite(density, "Density")
            if self.water <= density <= self.water + ROUND_OFF:
                return 0.0
            if self.ethanol - ROUND_OFF <= density <= self.ethanol:
                return 1.0
            raise NoSuchMixture(
                f"No mixture of ethanol and water has a density of {density:.3f} kg/m³ at {self.celsius:g} °C "
                f"(pure ethanol {self.ethanol:.3f}, water {self.water:.3f}): check the reading, the temperature, "
                "the instrument and whether the figure is in air or in vacuum."
            )
        coefficients = self.coefficients

        def gap(p: float) -> tuple[float, float]:
            value = slope = 0.0
            for c in coefficients:
                slope = slope * p + value
                value = value * p + c
            return density - value, -slope

        return _root(gap, (self.water - density) / (self.water - self.ethanol))

    def volume_fraction(self, mass_fraction: float) -> float:
        """Volume of ethanol at this temperature over volume of the mixture at this temperature, 0 to 1."""
        return mass_fraction * self.density(mass_fraction) / self.ethanol

    def mass_fraction_of_volume_fraction(self, volume_fraction: float) -> float:
        """Mass fraction of a mixture whose volumes are both taken at this temperature; raises OutOfRange."""
        if not 0.0 < volume_fraction < 1.0:
            if volume_fraction in (0.0, 1.0):
                return float(volume_fraction)
            require_finite(volume_fraction, "Strength")
            raise OutOfRange(
                f"A strength of {100 * volume_fraction:g} % vol is outside 0 to 100 %: check the reading and the scale."
            )
        coefficients, wanted = self.coefficients, volume_fraction * self.ethanol

        def gap(p: float) -> tuple[float, float]:
            value = slope = 0.0
            for c in coefficients:
                slope = slope * p + value
                value = value * p + c
            return p * value - wanted, value + p * slope

        water_volume = 1.0 - volume_fraction
        return _root(gap, wanted / (wanted + water_volume * self.water))


@lru_cache(maxsize=4096)
def isotherm(celsius: float) -> Isotherm:
    """The formula at one temperature, -20 to 40 °C; raises OutOfRange or NotANumber."""
    if not LOWEST_CELSIUS <= celsius <= HIGHEST_CELSIUS:
        require_finite(celsius, "Temperature")
        if celsius > HIGHEST_CELSIUS:
            raise OutOfRange(
                f"At {celsius:g} °C no strength or volume can be given: cool the sample below 40 °C and read again."
            )
        raise OutOfRange(
            f"At {celsius:g} °C no strength or volume can be given: warm the sample above -20 °C and read again."
        )
    offset = celsius - 20.0
    coefficients = tuple(_horner(powers, offset) for powers in reversed(_BY_POWER))
    return Isotherm(
        celsius=celsius,
        coefficients=coefficients,
        water=_horner(coefficients, 0.0),
        ethanol=_horner(coefficients, 1.0),
    )


def density_kg_per_m3(*, mass_fraction: float, celsius: float) -> float:
    """Density in vacuum, kg/m³, of a mixture of ``mass_fraction`` 0 to 1 ethanol at -20 to 40 °C.

    OIML R 22:1975, general formula. Raises OutOfRange or NotANumber.
    """
    return isotherm(celsius).density(mass_fraction)


def require_mass_fraction(value: float) -> None:
    """Raise NotANumber or OutOfRange unless ``value`` is from 0 to 1."""
    if not 0.0 <= value <= 1.0:
        require_finite(value, "Mass fraction of ethanol")
        raise OutOfRange(f"A strength of {100 * value:g} % mas is outside 0 to 100 %: check the reading.")


def _horner(coefficients: tuple[float, ...], x: float) -> float:
    total = 0.0
    for c in coefficients:
        total = total * x + c
    return total


def _root(gap: Callable[[float], tuple[float, float]], guess: float) -> float:
    """Root on 0..1 of a rising function given with its slope: Newton steps held inside a shrinking bracket."""
    low, high, p = 0.0, 1.0, guess
    for _ in range(100):
        value, slope = gap(p)
        if value > 0.0:
            high = p
        else:
            low = p
        step = value / slope if slope > 0.0 else 2.0
        # Newton's error falls to about the square of its step, so a step of 1e-9 leaves nothing to gain;
        # the second term is the last digit a density can carry.
        if abs(step) < 1e-9 * p + 1e-15 and 0.0 <= p - step <= 1.0:
            return p - step
        p = p - step if low < p - step < high else 0.5 * (low + high)
    return p
