"""What packages and bottle sizes are held to on a day: tolerable negative errors, nominal quantities of spirits.

Of each table the rows that start latest on or before the day hold together, as they were enacted together. Millilitres
at 20 °C. The sums are those of `distillery.process.bottling`.
"""

from __future__ import annotations

from datetime import date
from typing import TypeVar

from distillery import figures
from distillery.process.bottling import ErrorBand, SizeRule
from distillery.rules.in_force import NoRuleInForce
from distillery.rules.models import ONE, NominalQuantity, PackageError

MICROLITRES_A_MILLILITRE = 1_000.0

Row = TypeVar("Row", PackageError, NominalQuantity)


def error_bands(on: date) -> list[ErrorBand]:
    """Tolerable negative errors by nominal quantity as in force on a day. Raises NoRuleInForce."""
    return [
        ErrorBand(
            from_ml=row.nominal_from_ul / MICROLITRES_A_MILLILITRE,
            to_ml=_millilitres(row.nominal_to_ul),
            percent=None if row.share_millionths is None else 100.0 * row.share_millionths / ONE,
            millilitres=_millilitres(row.error_ul),
            source=row.source,
        )
        for row in _in_force(PackageError, on, "tolerable negative error of packages")
    ]


def size_rules(on: date) -> list[SizeRule]:
    """What holds of bottle sizes of spirits as in force on a day. Raises NoRuleInForce."""
    return [
        SizeRule(row.from_ul / MICROLITRES_A_MILLILITRE, _millilitres(row.to_ul), row.rule, row.source)
        for row in _in_force(NominalQuantity, on, "nominal quantity of spirits")
    ]


def _millilitres(microlitres: int | None) -> float | None:
    return None if microlitres is None else microlitres / MICROLITRES_A_MILLILITRE


def _in_force(table: type[Row], on: date, what: str) -> list[Row]:
    rows = list(table._default_manager.filter(from_day__lte=on).order_by("-from_day", "pk"))
    if not rows:
        raise NoRuleInForce(
            f"No {what} is set for {figures.day(on, year=True)}. Enter one that starts on or before that day."
        )
    return [row for row in rows if row.from_day == rows[0].from_day]
