"""Bulk litres brought to 20 °C, and the swelling of the vessel itself.

The mass of a liquid does not change with its temperature, so the litres at 20 °C are the litres at t times
density at t over density at 20 °C, both by OIML R 22:1975 at the TRUE strength. The vessel's own expansion is a
separate step, off unless the temperature of its calibration is known.
"""

from dataclasses import dataclass
from typing import Final

from .errors import NoReferenceTemperature, require_finite, require_not_negative
from .formula import isotherm
from .strength import REFERENCE_CELSIUS, mass_fraction_of_percent_vol

# Cubic expansion of a stainless steel shell, three times its linear one; figure from memory.
STEEL_PER_CELSIUS: Final = 5e-5


def factor_to_20(*, percent20: float, celsius: float) -> float:
    """Factor from litres at ``celsius`` (-20 to 40) to litres at 20 °C, for a true strength in % vol at 20 °C.

    Raises OutOfRange or NotANumber.
    """
    mass_fraction = mass_fraction_of_percent_vol(percent20)
    return isotherm(celsius).density(mass_fraction) / isotherm(REFERENCE_CELSIUS).density(mass_fraction)


def litres_at_20(*, litres: float, celsius: float, percent20: float) -> float:
    """Litres at 20 °C of ``litres`` measured at ``celsius``; ``percent20`` is the true strength, not the reading.

    Raises OutOfRange, NotANumber or NegativeQuantity.
    """
    return require_not_negative(litres, "Volume") * factor_to_20(percent20=percent20, celsius=celsius)


def litres_at_celsius(*, litres20: float, celsius: float, percent20: float) -> float:
    """Litres at ``celsius`` of ``litres20`` at 20 °C: what a dip should show. Refusals as litres_at_20."""
    return require_not_negative(litres20, "Volume") / factor_to_20(percent20=percent20, celsius=celsius)


@dataclass(frozen=True, slots=True)
class Shell:
    """The body of a vessel: the temperature its table was made at, and its cubic expansion per °C.

    Raises NoReferenceTemperature without a calibration temperature, NotANumber or NegativeQuantity.
    """

    calibration_celsius: float | None
    expansion_per_celsius: float = STEEL_PER_CELSIUS

    def __post_init__(self) -> None:
        if self.calibration_celsius is None:
            raise NoReferenceTemperature(
                "The temperature of this vessel's calibration is not recorded: leave the expansion of its shell out, "
                "or find the temperature on the calibration certificate."
            )
        require_finite(self.calibration_celsius, "Calibration temperature")
        require_not_negative(self.expansion_per_celsius, "Expansion of the shell")

    def factor(self, celsius: float) -> float:
        """What the shell holds at ``celsius`` over what its table says."""
        return 1.0 + self.expansion_per_celsius * (celsius - (self.calibration_celsius or 0.0))


def litres_in_shell(*, litres: float, celsius: float, shell: Shell) -> float:
    """Litres really held where the vessel's table says ``litres`` but its shell is at ``celsius``.

    Raises NotANumber or NegativeQuantity.
    """
    return require_not_negative(litres, "Volume") * shell.factor(require_finite(celsius, "Temperature"))
