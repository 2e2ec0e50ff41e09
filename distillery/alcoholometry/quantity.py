"""What a gauge becomes and a movement carries: pure alcohol, mass, bulk and strength, with its uncertainty.

Pure alcohol (whole microlitres at 20 °C) and mass (whole grams) are what mixing conserves, so they are stored as
whole numbers and every sum of them is exact. Bulk litres and strength are derived and stay floating point. The two
functions at the end are the only crossing from floating point to whole numbers, taken once per measured quantity.
"""

from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from .errors import NegativeQuantity, require_finite, require_not_negative, require_percent

MICROLITRES_PER_LITRE = 1_000_000
GRAMS_PER_KILOGRAM = 1_000


@dataclass(frozen=True, slots=True)
class Quantity:
    """A content of one vessel or one movement.

    ``pure_ul`` pure alcohol in µL at 20 °C; ``mass_g`` true mass in g (not weight in air); ``litres20`` bulk litres
    at 20 °C; ``percent20`` strength in % vol at 20 °C; ``uncertainty_ul`` standard uncertainty of ``pure_ul`` in µL.
    Raises NotANumber, NegativeQuantity or OutOfRange for a content that cannot be.
    """

    pure_ul: int
    mass_g: int
    litres20: float
    percent20: float
    uncertainty_ul: float

    def __post_init__(self) -> None:
        require_not_negative(self.pure_ul, "Pure alcohol")
        require_not_negative(self.mass_g, "Mass")
        require_not_negative(self.litres20, "Bulk volume")
        require_percent(self.percent20, "Strength")
        require_not_negative(self.uncertainty_ul, "Uncertainty of the alcohol")

    @property
    def lpa(self) -> float:
        """Litres of pure alcohol at 20 °C."""
        return self.pure_ul / MICROLITRES_PER_LITRE


NOTHING = Quantity(pure_ul=0, mass_g=0, litres20=0.0, percent20=0.0, uncertainty_ul=0.0)


def whole_microlitres(litres: float, *, signed: bool = False) -> int:
    """Litres to whole microlitres, half to even on the decimal figure as written.

    ``signed`` lets a difference be negative; a content below zero raises NegativeQuantity, NaN raises NotANumber.
    """
    return _whole(litres, MICROLITRES_PER_LITRE, "Volume in litres", signed)


def quantity_of(*, lpa: float, kilograms: float, litres20: float, percent20: float, uncertainty_ul: float) -> Quantity:
    """A measured content brought to whole numbers; refusals as Quantity and whole_microlitres."""
    return Quantity(
        pure_ul=whole_microlitres(lpa),
        mass_g=whole_grams(kilograms),
        litres20=float(litres20),
        percent20=float(percent20),
        uncertainty_ul=float(uncertainty_ul),
    )


def whole_grams(kilograms: float, *, signed: bool = False) -> int:
    """Kilograms to whole grams, half to even on the decimal figure as written; refusals as whole_microlitres."""
    return _whole(kilograms, GRAMS_PER_KILOGRAM, "Mass in kg", signed)


def _whole(value: float, per_unit: int, what: str, signed: bool) -> int:
    require_finite(value, what)
    if value < 0 and not signed:
        raise NegativeQuantity(f"{what} is {value:g}, below zero: check the reading.")
    # repr gives the shortest decimal that is this float, so a figure typed as ...5 is seen as a half.
    return int((Decimal(repr(float(value))) * per_unit).to_integral_value(rounding=ROUND_HALF_EVEN))
