"""Contents put together and taken apart in whole microlitres and grams, so that nothing is lost in the arithmetic.

Alcohol and mass of a mixture are the whole-number sums of its parts; bulk and strength are then worked out from the two
(OIML R 22:1975). A content divided gives two whole-number parts whose sum is the content again. Wash is no mixture of
spirit and water alone: mixed with anything else, its bulk and strength come out as if it were.
"""

from collections.abc import Iterable
from decimal import Decimal
from math import fsum, sqrt
from typing import Final

from .errors import CannotReach, NoSuchMixture, OutOfRange, require_finite, require_not_negative
from .formula import isotherm
from .quantity import NOTHING, Quantity, whole_grams
from .strength import ETHANOL_KG_PER_M3_20, REFERENCE_CELSIUS, percent_vol_of_mass_fraction

# What rounding alcohol and mass of a few parts to whole µL and g can leave between them.
ROUNDED_GRAMS: Final = 1.0


def mix(parts: Iterable[Quantity], *, uncertainty_ul: float | None = None) -> Quantity:
    """All parts together, the same whatever their order.

    ``uncertainty_ul`` overrides the quadrature sum when parts share an instrument. Raises NoSuchMixture.
    """
    poured = tuple(parts)
    spread = sqrt(fsum(part.uncertainty_ul**2 for part in poured)) if uncertainty_ul is None else uncertainty_ul
    full = [part for part in poured if part.pure_ul or part.mass_g]
    if len(full) == 1:
        return _with_uncertainty(full[0], spread)
    return content_of(
        pure_ul=sum(part.pure_ul for part in full), mass_g=sum(part.mass_g for part in full), uncertainty_ul=spread
    )


def content_of(*, pure_ul: int, mass_g: int, uncertainty_ul: float = 0.0) -> Quantity:
    """The content an alcohol in µL and a true mass in g make; raises NoSuchMixture when no mixture can."""
    state = litres_and_percent_of(pure_ul=pure_ul, mass_g=mass_g)
    if state is None:
        raise NoSuchMixture(
            f"{pure_ul / 1e6:g} LPA weighs more than {mass_g / 1000:g} kg: the alcohol or the mass of a part is wrong."
        )
    litres20, percent20 = state
    return Quantity(pure_ul, mass_g, litres20, percent20, uncertainty_ul)


def litres_and_percent_of(*, pure_ul: int, mass_g: int) -> tuple[float, float] | None:
    """Litres at 20 °C and % vol that an alcohol in µL and a true mass in g make together as spirit and water.

    None where no mixture can: a mass below the alcohol's own by more than the rounding to whole grams (a book between
    two gauges may stand so for a while). Raises NegativeQuantity or NotANumber.
    """
    require_not_negative(pure_ul, "Pure alcohol")
    require_not_negative(mass_g, "Mass")
    alcohol_g = pure_ul * ETHANOL_KG_PER_M3_20 / 1e6
    if alcohol_g > mass_g:
        if alcohol_g - mass_g > ROUNDED_GRAMS:
            return None
        return pure_ul / 1e6, (100.0 if pure_ul else 0.0)
    if not mass_g:
        return 0.0, 0.0
    mass_fraction = alcohol_g / mass_g
    return mass_g / isotherm(REFERENCE_CELSIUS).density(mass_fraction), percent_vol_of_mass_fraction(mass_fraction)


def water(kilograms: float) -> Quantity:
    """Water of a true mass in kg; raises NegativeQuantity or NotANumber."""
    return content_of(pure_ul=0, mass_g=whole_grams(kilograms))


def take_mass(whole: Quantity, *, mass_g: int) -> tuple[Quantity, Quantity]:
    """What is taken and what stays when ``mass_g`` leaves a well-mixed content; the two add up exactly.

    Raises CannotReach when more is asked than is there, NegativeQuantity.
    """
    require_not_negative(mass_g, "Mass to take")
    if mass_g > whole.mass_g:
        raise CannotReach(f"{mass_g / 1000:g} kg cannot be taken from {whole.mass_g / 1000:g} kg: gauge the vessel.")
    if not whole.mass_g:
        return NOTHING, whole
    return _divide(whole, pure_ul=_share(whole.pure_ul, mass_g, whole.mass_g), mass_g=mass_g)


def take_alcohol(whole: Quantity, *, pure_ul: int) -> tuple[Quantity, Quantity]:
    """As take_mass, by the pure alcohol that leaves, in µL."""
    require_not_negative(pure_ul, "Alcohol to take")
    if pure_ul > whole.pure_ul:
        raise CannotReach(f"{pure_ul / 1e6:g} LPA cannot be taken from {whole.lpa:g} LPA: gauge the vessel.")
    if not whole.pure_ul:
        return NOTHING, whole
    return _divide(whole, pure_ul=pure_ul, mass_g=_share(whole.mass_g, pure_ul, whole.pure_ul))


def shares(total: int, weights: Iterable[float]) -> tuple[int, ...]:
    """A whole number shared by weight into whole numbers that add up to it exactly; the largest remainders round up.

    Raises OutOfRange when the weights have no sum, NegativeQuantity or NotANumber.
    """
    exact = [Decimal(repr(float(require_not_negative(weight, "Weight of a share")))) for weight in weights]
    whole = sum(exact, Decimal(0))
    if whole == 0:
        raise OutOfRange("The weights of the shares add up to nothing: give at least one above zero.")
    parts = [int(total * weight // whole) for weight in exact]
    remainders = sorted(range(len(exact)), key=lambda i: (-(total * exact[i] % whole), i))
    for position in remainders[: total - sum(parts)]:
        parts[position] += 1
    return tuple(parts)


def _divide(whole: Quantity, *, pure_ul: int, mass_g: int) -> tuple[Quantity, Quantity]:
    share = mass_g / whole.mass_g if whole.mass_g else pure_ul / whole.pure_ul

    def part(pure: int, mass: int, of_whole: float) -> Quantity:
        if not pure and not mass:
            return NOTHING
        # Both parts have the strength of the whole: dividing does not change it, and it is what the gauge measured.
        return Quantity(pure, mass, whole.litres20 * of_whole, whole.percent20, whole.uncertainty_ul * of_whole)

    return part(pure_ul, mass_g, share), part(whole.pure_ul - pure_ul, whole.mass_g - mass_g, 1.0 - share)


def _share(amount: int, part: int, whole: int) -> int:
    """``amount × part / whole`` to the nearest whole number, half to even, in whole-number arithmetic."""
    quotient, remainder = divmod(amount * part, whole)
    return quotient + (2 * remainder > whole or (2 * remainder == whole and quotient % 2 == 1))


def _with_uncertainty(quantity: Quantity, uncertainty_ul: float) -> Quantity:
    require_finite(uncertainty_ul, "Uncertainty of the alcohol")
    return Quantity(quantity.pure_ul, quantity.mass_g, quantity.litres20, quantity.percent20, uncertainty_ul)
