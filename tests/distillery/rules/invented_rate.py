"""A duty rate for the invented months of 2027, whose real one is not known."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from distillery.rules.setting.figures import set_duty_rate


def enter_rate(pounds: str = "35.01", from_day: date = date(2027, 2, 1)) -> None:
    """Enters one rate for spirits above 22 % vol, as a manager would; invented."""
    set_duty_rate(
        from_day=from_day,
        strength_from_percent=Decimal("22.1"),
        strength_to_percent=Decimal(100),
        pounds_per_lpa=Decimal(pounds),
        tax_type="345",
        source="invented for the tests",
    )
