"""The roundings that law and guidance prescribe, each by its name, date and source.

A rounded figure is for the purpose its rule names and is never stored or carried on: 40.09 % taken as 40.0 % on 1000 L
moves 0.9 LPA. Decimal arithmetic throughout, because a product that is exact on paper (39 × 0.130 = 5.07) may fall
short in binary and be cut one step too low. The UK rules are dated by the duty of 1 August 2023 they belong to; a rule
with no date has a source whose first day in force is not known. A site may add rules of its own.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_DOWN, ROUND_HALF_EVEN, ROUND_HALF_UP, ROUND_UP, Context, Decimal, InvalidOperation
from typing import Final, Literal, get_args

from .errors import NotANumber, OutsideTable

Mode = Literal["down", "up", "half_up", "half_even"]
WAYS: Final[tuple[str, ...]] = get_args(Mode)
_MODES: Final = {
    "down": ROUND_DOWN,
    "up": ROUND_UP,
    "half_up": ROUND_HALF_UP,
    "half_even": ROUND_HALF_EVEN,
}
_EXACT: Final = Context(prec=60)


@dataclass(frozen=True, slots=True)
class RoundingRule:
    """One rounding: what it rounds to (``step`` in ``unit``), which way, since when and by whose word."""

    name: str
    step: Decimal
    unit: str
    mode: Mode
    from_date: date | None
    source: str

    def apply(self, value: Decimal | int | str | float) -> Decimal:
        """``value`` brought to a whole number of steps, in as many decimals as the step has.

        A float counts as the decimal it prints as. Down is towards zero and up away from it. Raises NotANumber.
        """
        exact = decimal_of(value)
        steps = _EXACT.divide(exact, self.step).to_integral_value(rounding=_MODES[self.mode], context=_EXACT)
        return _EXACT.multiply(steps, self.step).quantize(self.step, context=_EXACT)


def decimal_of(value: Decimal | int | str | float) -> Decimal:
    """A figure as the decimal it was written as; raises NotANumber."""
    try:
        exact = Decimal(repr(float(value))) if isinstance(value, float) else Decimal(value)
    except InvalidOperation as error:
        raise NotANumber(f"{value!r} is not a number: enter a figure.") from error
    if not exact.is_finite():
        raise NotANumber(f"{value} is not a number: enter a figure.")
    return exact


DUTY_STRENGTH: Final = RoundingRule(
    name="duty strength",
    step=Decimal("0.1"),
    unit="% vol",
    mode="down",
    from_date=date(2023, 8, 1),
    source="HMRC Alcoholic products technical guide, section 11",
)
RETURN_LPA: Final = RoundingRule(
    name="pure alcohol on a return",
    step=Decimal("0.0001"),
    unit="LPA",
    mode="down",
    from_date=date(2023, 8, 1),
    source="HMRC, figures of the Alcohol Duty return 2025-26: four decimals; no mode is published, cut down by default",
)
RETURN_LITRES: Final = RoundingRule(
    name="litres on a return",
    step=Decimal("0.01"),
    unit="L",
    mode="down",
    from_date=date(2023, 8, 1),
    source="HMRC, figures of the Alcohol Duty return 2025-26: two decimals; no mode is published, cut down by default",
)
DUTY_MONEY: Final = RoundingRule(
    name="duty on a line",
    step=Decimal("0.01"),
    unit="GBP",
    mode="down",
    from_date=date(2023, 8, 1),
    source="HMRC, figures of the Alcohol Duty return 2025-26: part-pence dropped in the worked figures",
)
SHOWN_LPA: Final = RoundingRule(
    name="pure alcohol as shown",
    step=Decimal("0.01"),
    unit="LPA",
    mode="half_even",
    from_date=None,
    source="common practice, no source; HMRC HMEXSH5030 carries two decimals in its example",
)
TOLERABLE_NEGATIVE_ERROR: Final = RoundingRule(
    name="tolerable negative error in percent of the contents",
    step=Decimal("0.1"),
    unit="ml",
    mode="up",
    from_date=None,
    source="Weights and Measures (Packaged Goods) Regulations 2006, SI 2006/659",
)
US_PROOF: Final = RoundingRule(
    name="US proof to the nearest tenth",
    step=Decimal("0.1"),
    unit="proof",
    mode="half_up",
    from_date=None,
    source="27 CFR 30.23",
)
US_GALLONS: Final = RoundingRule(
    name="US gallons to the nearest tenth",
    step=Decimal("0.1"),
    unit="gal",
    mode="half_up",
    from_date=None,
    source="27 CFR 30.64",
)
US_CONTAINER_WEIGHT: Final = RoundingRule(
    name="US container weight, part of an ounce up",
    step=Decimal("0.0625"),
    unit="lb",
    mode="up",
    from_date=None,
    source="27 CFR 30.44",
)
RULES: Final = (
    DUTY_STRENGTH,
    RETURN_LPA,
    RETURN_LITRES,
    DUTY_MONEY,
    SHOWN_LPA,
    TOLERABLE_NEGATIVE_ERROR,
    US_PROOF,
    US_GALLONS,
    US_CONTAINER_WEIGHT,
)


def rule_in_force(name: str, on: date, rules: Iterable[RoundingRule] = RULES) -> RoundingRule:
    """The rule of that name in force on a day: the latest begun by then, else one without a date.

    Raises OutsideTable when there is none.
    """
    named = [rule for rule in rules if rule.name == name]
    begun = [rule for rule in named if rule.from_date is not None and rule.from_date <= on]
    if begun:
        return max(begun, key=lambda rule: rule.from_date or date.min)
    undated = [rule for rule in named if rule.from_date is None]
    if undated:
        return undated[0]
    raise OutsideTable(f"No rounding rule named {name!r} is in force on {on.isoformat()}: enter one with its source.")
