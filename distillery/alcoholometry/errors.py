"""Refusals of alcoholometry, each with a sentence that says what is wrong and what to do.

A value outside a formula's range is refused, never brought to the nearest end of the range: a figure made that way
would enter the account looking like a measurement.
"""

from math import isfinite


class AlcoholometryError(ValueError):
    """Base of every refusal; ``str()`` is a sentence for the person who typed the figure."""


class NotANumber(AlcoholometryError):
    """The figure is missing, infinite or not a number."""


class OutOfRange(AlcoholometryError):
    """The figure lies outside the range in which the formula holds."""


class NegativeQuantity(AlcoholometryError):
    """A content, weight or count below nothing."""


class NoSuchMixture(AlcoholometryError):
    """No mixture of ethanol and water has this density at this temperature."""


class NoReferenceTemperature(AlcoholometryError):
    """The instrument's reference temperature is not recorded, so its scale means nothing."""


class WrongScale(AlcoholometryError):
    """The instrument's scale is not the one the calculation needs."""


class UnstatedBasis(AlcoholometryError):
    """A density whose basis, in air or in vacuum, was not said."""


class AirTakenForVacuum(AlcoholometryError):
    """A density in air was given where one in vacuum is needed, or the other way round."""


class OutsideCertificate(AlcoholometryError):
    """The reading lies outside the points the instrument's certificate covers."""


class OutsideTable(AlcoholometryError):
    """The published table has no entry for this figure."""


class ImpossibleGravities(AlcoholometryError):
    """Original and present gravity do not go together."""


class CannotReach(AlcoholometryError):
    """The target cannot be reached from what is there."""


def require_finite(value: float, what: str) -> float:
    """Return ``value``; raise NotANumber when it is NaN or infinite."""
    if not isfinite(value):
        raise NotANumber(f"{what} is not a number ({value}): read it again and enter a figure.")
    return value


def require_not_negative(value: float, what: str) -> float:
    """Return ``value``; raise NotANumber or NegativeQuantity when it is not a figure of zero or more."""
    require_finite(value, what)
    if value < 0:
        raise NegativeQuantity(f"{what} is {value:g}, below zero: check the sign and the reading.")
    return value


def require_percent(value: float, what: str) -> float:
    """Return ``value``; raise NotANumber or OutOfRange when it is not from 0 to 100."""
    if not 0.0 <= value <= 100.0:
        require_finite(value, what)
        raise OutOfRange(f"{what} is {value:g} %, outside 0 to 100 %: check the reading and the decimal point.")
    return value
