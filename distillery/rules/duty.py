"""Duty on spirits, the three roundings of an official figure: strength, litres of pure alcohol, money.

Strength is cut down to one decimal (Alcoholic products technical guide, section 11: 7.59 is taken as 7.5).
Litres of pure alcohol are litres at 20 °C times strength on the whole line (HMRC manual HMEXSH5030), carried
with four decimals; that they are cut down too is our reading, no published way was found. Part of a penny is
dropped (shown by the worked figures of HMRC's description of the return). These figures are for the duty
account: stock keeps the measured strength, and nothing computed here goes back into it.
Left out: reliefs for small producers and draught, which reach nothing at 8.5 % or above.
"""

from __future__ import annotations

from decimal import ROUND_FLOOR, Decimal
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from distillery.rules.models import DutyRate

ONE_DECIMAL: Final = Decimal("0.1")
FOUR_DECIMALS: Final = Decimal("0.0001")
WHOLE_PENCE: Final = Decimal(1)
HUNDREDTHS_A_PENNY: Final = 100


def duty_strength(percent: Decimal) -> Decimal:
    """Strength in % vol at 20 °C as duty takes it: 57.86 is 57.8."""
    return percent.quantize(ONE_DECIMAL, rounding=ROUND_FLOOR)


def duty_lpa(litres20: Decimal, percent: Decimal) -> Decimal:
    """Litres of pure alcohol of one line of the return, from litres at 20 °C and % vol as measured or labelled."""
    return (litres20 * duty_strength(percent) / 100).quantize(FOUR_DECIMALS, rounding=ROUND_FLOOR)


def duty_on(lpa: Decimal, rate: DutyRate) -> int:
    """Duty in whole pence on litres of pure alcohol: 33.6 at 33.99 pounds is 114206."""
    pence = lpa * rate.pence_hundredths_per_lpa / HUNDREDTHS_A_PENNY
    return int(pence.quantize(WHOLE_PENCE, rounding=ROUND_FLOOR))
