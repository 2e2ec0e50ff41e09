"""The figures a new site starts with, read from the tables beside this file, each line with its source.

People keep the tables in percent, pounds and litres; here they become the whole numbers of the models.
Once a site runs, its own dated rows are added by `distillery.rules.setting`; the tables are not read again.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any, Final

from distillery.alcoholometry.gravity import hmrc_gravity_table

DATA: Final = Path(__file__).parent / "data"
GRAVITY_TABLE: Final = "HMRC gravity factors"

MILLIONTHS_A_PERCENT: Final = 10_000
MILLIONTHS: Final = 1_000_000
MICROLITRES_A_LITRE: Final = 1_000_000
HUNDREDTHS_OF_A_PENNY_A_POUND: Final = 10_000
THOUSANDTHS: Final = 1_000

Row = dict[str, Any]


class UnusableTableError(ValueError):
    """A table cannot be used; the sentence names the figure."""


def whole(figure: str | Decimal, per_unit: int) -> int:
    """`figure` in parts of its unit, exactly; raises UnusableTableError if it has more decimals than that."""
    parts = Decimal(figure) * per_unit
    if parts != parts.to_integral_value():
        raise UnusableTableError(f"The figure {figure} has more decimals than can be kept (1/{per_unit}).")
    return int(parts)


def duty_rates() -> list[Row]:
    """Rows of DutyRate: Spirits rates of the United Kingdom since 24 March 2014."""
    return [
        {
            "from_day": date.fromisoformat(line["from_day"]),
            "to_day": date.fromisoformat(line["to_day"]) if line["to_day"] else None,
            "strength_from_millionths": whole(line["strength_from_percent"], MILLIONTHS_A_PERCENT),
            "strength_to_millionths": whole(line["strength_to_percent"], MILLIONTHS_A_PERCENT),
            "pence_hundredths_per_lpa": whole(line["pounds_per_lpa"], HUNDREDTHS_OF_A_PENNY_A_POUND),
            "tax_type": line["tax_type"],
            "source": line["source"],
        }
        for line in _lines("duty_rates.csv")
    ]


def review_thresholds() -> list[Row]:
    """Rows of ReviewThreshold: one for each operation, of any vessel."""
    return [
        {
            "operation": line["operation"],
            "vessel": line["vessel"],
            "from_day": date.fromisoformat(line["from_day"]),
            "usual_millionths": whole(line["usual_percent"], MILLIONTHS_A_PERCENT),
            "usual_half_width_millionths": whole(line["usual_half_width_percent"], MILLIONTHS_A_PERCENT),
            "spread_millionths": whole(line["spread_percent"], MILLIONTHS_A_PERCENT),
            "threshold_millionths": whole(line["threshold_percent"], MILLIONTHS_A_PERCENT),
            "floor_ul": whole(line["floor_lpa"], MICROLITRES_A_LITRE),
            "source": line["source"],
        }
        for line in _lines("review_thresholds.csv")
    ]


def cask_bands() -> list[Row]:
    """Rows of CaskBand: what any cask in any warehouse is expected to lose a year."""
    return [
        {
            "from_day": date.fromisoformat(line["from_day"]),
            "warehouse": line["warehouse"],
            "cask_kind": line["cask_kind"],
            "low_millionths_a_year": whole(line["low_percent_a_year"], MILLIONTHS_A_PERCENT),
            "high_millionths_a_year": whole(line["high_percent_a_year"], MILLIONTHS_A_PERCENT),
            "source": line["source"],
        }
        for line in _lines("cask_bands.csv")
    ]


def usual_figures() -> list[Row]:
    """Rows of UsualFigure: what figures usually are and how far they stray, in millionths of their unit."""
    return [
        {
            "name": line["name"],
            "from_day": date.fromisoformat(line["from_day"]),
            "unit": line["unit"],
            "expected_millionths": whole(line["expected"], MILLIONTHS) if line["expected"] else None,
            "spread_millionths": whole(line["spread"], MILLIONTHS),
            "source": line["source"],
        }
        for line in _lines("usual_figures.csv")
    ]


def loss_causes() -> list[Row]:
    """Rows of LossCause."""
    return [
        {"name": line["name"], "from_day": date.fromisoformat(line["from_day"]), "source": line["source"]}
        for line in _lines("loss_causes.csv")
    ]


def gravity_factors() -> list[Row]:
    """Rows of GravityFactor: the published table that alcoholometry ships with."""
    table = hmrc_gravity_table()
    return [
        {
            "table": GRAVITY_TABLE,
            "from_day": table.from_date,
            "drop_from_thousandths": whole(band.from_degrees, THOUSANDTHS),
            "drop_to_thousandths": whole(band.to_degrees, THOUSANDTHS),
            "factor_millionths": whole(band.factor, MILLIONTHS),
            "source": table.source,
        }
        for band in table.bands
    ]


def _lines(name: str) -> Iterator[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as table:
        yield from csv.DictReader(table)
