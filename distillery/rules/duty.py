"""Duty on spirits, from the measured figure to the official one: strength, litres of pure alcohol, money.

Which way each is rounded, since when and by whose word stands in `distillery.alcoholometry.rounding`; here they are
only applied, by the rule in force on the day of the duty point. Litres of pure alcohol are litres at 20 °C times
strength on the whole line (HMRC manual HMEXSH5030). These figures are for the duty account: stock keeps the measured
strength, and nothing computed here goes back into it.
Left out: reliefs for small producers and draught, which reach nothing at 8.5 % or above.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Final

from distillery.alcoholometry.rounding import (
    DUTY_MONEY,
    DUTY_STRENGTH,
    RETURN_LPA,
    RULES,
    RoundingRule,
    rule_in_force,
)

if TYPE_CHECKING:
    from distillery.rules.models import DutyRate

Rules = tuple[RoundingRule, ...]
HUNDREDTHS_OF_A_PENNY_A_POUND: Final = 10_000
PENCE_A_POUND: Final = 100


def duty_strength(percent: Decimal, on: date | None = None, rules: Rules = RULES) -> Decimal:
    """Strength in % vol at 20 °C as duty takes it: 57.86 is 57.8. Raises OutsideTable where no rule is in force."""
    return _rule(DUTY_STRENGTH, on, rules).apply(percent)


def duty_lpa(litres20: Decimal, percent: Decimal, on: date | None = None, rules: Rules = RULES) -> Decimal:
    """Litres of pure alcohol of one line of the return, from litres at 20 °C and % vol as measured or labelled.

    Raises OutsideTable where no rule is in force on the day.
    """
    return _rule(RETURN_LPA, on, rules).apply(litres20 * duty_strength(percent, on, rules) / 100)


def duty_on(lpa: Decimal, rate: DutyRate, on: date | None = None, rules: Rules = RULES) -> int:
    """Duty in whole pence on litres of pure alcohol: 33.6 at 33.99 pounds is 114206. Raises OutsideTable."""
    money = _rule(DUTY_MONEY, on, rules)
    pounds = money.apply(lpa * rate.pence_hundredths_per_lpa / HUNDREDTHS_OF_A_PENNY_A_POUND)
    return int(pounds * PENCE_A_POUND)


def _rule(latest: RoundingRule, on: date | None, rules: Rules) -> RoundingRule:
    return latest if on is None else rule_in_force(latest.name, on, rules)
