"""The United States system: proof, wine gallons and proof gallons at 60 °F.

US proof is twice the % vol at 60 °F, both volumes at 60 °F; a proof gallon is a US gallon at 100 proof (27 CFR
part 30). A second unit system beside % vol at 20 °C, by the same formula (OIML R 22:1975) taken at 60 °F. Exact units:
US gallon 3.785411784 L, pound 0.45359237 kg (NIST SP 811, figures from memory). Weights are in air. British proof is
another thing and is not here.
"""

from typing import Final

from .errors import CannotReach, OutOfRange, require_finite, require_not_negative
from .formula import isotherm
from .reading import SIXTY_FAHRENHEIT, Alcoholometer, true_percent_of_reading
from .strength import VacuumDensity, mass_fraction_of_percent_vol, percent_vol_of_mass_fraction

LITRES_PER_US_GALLON: Final = 3.785411784
KILOGRAMS_PER_POUND: Final = 0.45359237
PROOF_INSTRUMENT: Final = Alcoholometer(reference_celsius=SIXTY_FAHRENHEIT, scale="us_proof")
_AT_60_F: Final = isotherm(SIXTY_FAHRENHEIT)


def celsius_of_fahrenheit(fahrenheit: float) -> float:
    """Degrees Celsius; raises NotANumber."""
    return (require_finite(fahrenheit, "Temperature") - 32.0) / 1.8


def us_proof_of_percent20(percent20: float) -> float:
    """US proof of a strength in % vol at 20 °C, 0 to 100; raises OutOfRange."""
    return 200.0 * _AT_60_F.volume_fraction(mass_fraction_of_percent_vol(percent20))


def percent20_of_us_proof(us_proof: float) -> float:
    """% vol at 20 °C of a US proof, 0 to 200; raises OutOfRange."""
    return percent_vol_of_mass_fraction(_mass_fraction(us_proof))


def true_us_proof(*, reading_proof: float, fahrenheit: float, instrument: Alcoholometer = PROOF_INSTRUMENT) -> float:
    """True proof from a glass hydrometer's reading at a temperature in °F; refusals as true_percent_of_reading."""
    return us_proof_of_percent20(
        true_percent_of_reading(reading=reading_proof, celsius=celsius_of_fahrenheit(fahrenheit), instrument=instrument)
    )


def factor_to_60_fahrenheit(*, us_proof: float, fahrenheit: float) -> float:
    """Factor from a volume at a temperature in °F to the volume at 60 °F, at the true proof; raises OutOfRange."""
    mass_fraction = _mass_fraction(us_proof)
    return isotherm(celsius_of_fahrenheit(fahrenheit)).density(mass_fraction) / _AT_60_F.density(mass_fraction)


def wine_gallons_per_pound_in_air(us_proof: float) -> float:
    """US gallons at 60 °F in a pound weighed in air, proof 0 to 200; raises OutOfRange."""
    in_air = VacuumDensity(_AT_60_F.density(_mass_fraction(us_proof))).in_air().kg_per_m3
    return KILOGRAMS_PER_POUND / in_air * 1000.0 / LITRES_PER_US_GALLON


def proof_gallons_of_pounds(*, pounds_in_air: float, us_proof: float) -> float:
    """Proof gallons in a net weight in air, pounds; raises OutOfRange or NegativeQuantity."""
    return (
        require_not_negative(pounds_in_air, "Net weight") * wine_gallons_per_pound_in_air(us_proof) * us_proof / 100.0
    )


def pounds_of_wine_gallons(*, wine_gallons: float, us_proof: float) -> float:
    """Net weight in air, pounds, of US gallons at 60 °F; raises OutOfRange or NegativeQuantity."""
    return require_not_negative(wine_gallons, "Volume") / wine_gallons_per_pound_in_air(us_proof)


def proof_gallons_of_wine_gallons(*, wine_gallons: float, us_proof: float) -> float:
    """Proof gallons in US gallons at 60 °F; raises OutOfRange or NegativeQuantity."""
    _require_proof(us_proof)
    return require_not_negative(wine_gallons, "Volume") * us_proof / 100.0


def lpa_of_proof_gallons(proof_gallons: float) -> float:
    """Litres of pure alcohol at 20 °C: half a US gallon of alcohol at 60 °F to the proof gallon, brought to 20 °C."""
    at_60 = require_not_negative(proof_gallons, "Proof gallons") * 0.5 * LITRES_PER_US_GALLON
    return at_60 * _AT_60_F.ethanol / isotherm(20.0).ethanol


def proof_gallons_of_lpa(lpa: float) -> float:
    """Proof gallons of litres of pure alcohol at 20 °C; raises NegativeQuantity or NotANumber."""
    return require_not_negative(lpa, "Pure alcohol") / lpa_of_proof_gallons(1.0)


def water_parts_in_100_volumes(us_proof: float) -> float:
    """Volumes of water which with proof/2 volumes of alcohol make 100 volumes at 60 °F; raises OutOfRange."""
    mass_fraction = _mass_fraction(us_proof)
    return 100.0 * _AT_60_F.density(mass_fraction) * (1.0 - mass_fraction) / _AT_60_F.water


def water_gallons_per_100_to_reduce(*, from_proof: float, to_proof: float) -> float:
    """US gallons of water at 60 °F for 100 gallons of spirit, contraction included; raises CannotReach, OutOfRange."""
    _require_reduction(from_proof, to_proof)
    ratio = from_proof / to_proof
    return ratio * water_parts_in_100_volumes(to_proof) - water_parts_in_100_volumes(from_proof)


def water_pounds_to_reduce(*, pounds_in_air: float, from_proof: float, to_proof: float) -> float:
    """Pounds of water in air for a net weight of spirit in air; raises CannotReach, OutOfRange or NegativeQuantity."""
    _require_reduction(from_proof, to_proof)
    before = pounds_in_air * wine_gallons_per_pound_in_air(from_proof)
    after = pounds_of_wine_gallons(wine_gallons=before * from_proof / to_proof, us_proof=to_proof)
    return after - require_not_negative(pounds_in_air, "Net weight")


def _mass_fraction(us_proof: float) -> float:
    _require_proof(us_proof)
    return _AT_60_F.mass_fraction_of_volume_fraction(us_proof / 200.0)


def _require_proof(us_proof: float) -> None:
    if not 0.0 <= require_finite(us_proof, "Proof") <= 200.0:
        raise OutOfRange(f"{us_proof:g} US proof is outside 0 to 200: check the reading and the decimal point.")


def _require_reduction(from_proof: float, to_proof: float) -> None:
    _require_proof(from_proof)
    if not 0.0 < require_finite(to_proof, "Target proof") <= from_proof:
        raise CannotReach(
            f"Water cannot bring {from_proof:g} proof to {to_proof:g}: choose a target above 0 and not above the start."
        )
