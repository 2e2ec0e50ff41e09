"""A quantity of liquid: the pure alcohol in it and its mass, the two things that mixing and dividing conserve.

Alcohol in litres at 20 °C (LPA), mass in kg in vacuum. Bulk litres follow from the two and are never added up.
"""

from dataclasses import dataclass

from .ethanol_water import PURE_ETHANOL_KG_PER_M3, density, mass_fraction_of, percent_of


@dataclass(frozen=True)
class Liquid:
    alcohol: float = 0.0
    mass: float = 0.0

    @classmethod
    def of(cls, alcohol: float, percent: float) -> "Liquid":
        """So much pure alcohol at this strength (% vol at 20 °C, above 0)."""
        return cls(alcohol, alcohol * PURE_ETHANOL_KG_PER_M3 / 1000.0 / mass_fraction_of(percent))

    @classmethod
    def of_litres(cls, litres: float, percent: float) -> "Liquid":
        """So many bulk litres at 20 °C of this strength."""
        return cls.of(litres * percent / 100.0, percent)

    @property
    def is_empty(self) -> bool:
        return self.mass < 1e-9

    @property
    def mass_fraction(self) -> float:
        ethanol = self.alcohol * PURE_ETHANOL_KG_PER_M3 / 1000.0
        return min(1.0, max(0.0, ethanol / self.mass)) if self.mass else 0.0

    @property
    def percent(self) -> float:
        """Strength, % vol at 20 °C."""
        return percent_of(self.mass_fraction)

    def litres(self, celsius: float = 20.0) -> float:
        """Bulk litres at this temperature."""
        return 1000.0 * self.mass / density(self.mass_fraction, celsius) if self.mass else 0.0

    def share(self, fraction: float) -> "Liquid":
        return Liquid(self.alcohol * fraction, self.mass * fraction)

    def __add__(self, other: "Liquid") -> "Liquid":
        return Liquid(self.alcohol + other.alcohol, self.mass + other.mass)

    def __sub__(self, other: "Liquid") -> "Liquid":
        """What is left when `other` is taken out; taking all leaves nothing at all."""
        mass = self.mass - other.mass
        if abs(mass) < 1e-9:
            return Liquid()
        if mass < 0 or self.alcohol - other.alcohol < -1e-9:
            raise ValueError("more was taken out than was there")
        return Liquid(max(0.0, self.alcohol - other.alcohol), mass)


def water_to_reduce(liquid: Liquid, percent: float) -> float:
    """Kilograms of water that bring the liquid down to this strength; 0 where it is already there or below."""
    return max(0.0, Liquid.of(liquid.alcohol, percent).mass - liquid.mass)
