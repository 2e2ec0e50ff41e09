"""Obscuration: strength hidden by dissolved solids, kept as its own signed and dated figure.

Sugar, caramel, cask or botanical extract make spirit denser, so hydrometer and meter show less than the true strength:
``true = apparent + obscuration``. The real strength is found by distilling a sample, restoring its volume and measuring
(Regulation (EC) 2870/2000, Annex I). The figure belongs to the sample and its date and is never folded into a reading.
"""

from dataclasses import dataclass
from datetime import date

from .errors import OutOfRange, require_finite, require_not_negative, require_percent

# 27 CFR 30.32: 4 degrees of US proof, 2 % vol, for each gram of solids in 100 ml of spirit of 80 to 100 proof.
US_PROOF_PER_SOLIDS = 4.0


@dataclass(frozen=True, slots=True)
class Obscuration:
    """True less apparent strength in % vol at 20 °C, when and how it was found, and its standard uncertainty.

    ``of`` says whose it is, so that gauges of one liquid share its error and those of another do not.
    """

    percent: float
    determined_on: date
    source: str
    standard_uncertainty: float = 0.0
    of: str = ""

    def __post_init__(self) -> None:
        require_finite(self.percent, "Obscuration")
        require_not_negative(self.standard_uncertainty, "Standard uncertainty of the obscuration")
        if not -20.0 <= self.percent <= 20.0:
            raise OutOfRange(f"An obscuration of {self.percent:g} % vol is not credible: distil the sample again.")

    @property
    def name(self) -> str:
        """What a chain calls it: 'obscuration of SV1, 2027-03-04'."""
        whose = f"{self.of}, " if self.of else ""
        return f"obscuration of {whose}{self.determined_on.isoformat()}"


def true_percent_of_apparent(apparent_percent: float, obscuration: Obscuration) -> float:
    """True strength in % vol at 20 °C; raises OutOfRange where the sum is outside 0 to 100."""
    return require_percent(require_finite(apparent_percent, "Apparent strength") + obscuration.percent, "True strength")


def obscuration_by_distilling(
    *, apparent_percent: float, distilled_percent: float, determined_on: date, standard_uncertainty: float = 0.0
) -> Obscuration:
    """Obscuration of a sample whose distillate, made up to the sample's volume, shows ``distilled_percent`` at 20 °C.

    Raises OutOfRange or NotANumber.
    """
    return Obscuration(
        percent=require_percent(distilled_percent, "Strength of the distillate")
        - require_percent(apparent_percent, "Apparent strength"),
        determined_on=determined_on,
        source="sample distilled and made up to volume (Regulation (EC) 2870/2000, Annex I)",
        standard_uncertainty=standard_uncertainty,
    )


def us_proof_hidden_by_solids(*, grams_per_100_ml: float, us_proof: float) -> float:
    """Degrees of US proof hidden by dissolved solids, for spirit of 80 to 100 proof (27 CFR 30.32).

    Raises OutOfRange outside that range, NegativeQuantity or NotANumber.
    """
    require_not_negative(grams_per_100_ml, "Solids")
    if not 80.0 <= require_finite(us_proof, "Proof") <= 100.0:
        raise OutOfRange(
            f"The rule for solids holds from 80 to 100 US proof, not at {us_proof:g}: distil a sample instead."
        )
    return US_PROOF_PER_SOLIDS * grams_per_100_ml
