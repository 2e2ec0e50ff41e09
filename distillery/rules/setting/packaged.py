"""How a site sets what packages and bottle sizes are held to: a whole table from a day on, and no old one changed.

The rows that start on one day hold together, as they are enacted together, so a table is entered whole. Millilitres at
20 °C.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Final, TypeVar

from distillery import figures
from distillery.people.models import Person
from distillery.process.bottling import ANY_SIZE, LISTED_ONLY, PERMITTED
from distillery.rules.models import NominalQuantity, PackageError
from distillery.rules.setting import entering
from distillery.rules.setting.entering import Unsettable, enter
from distillery.rules.setting.figures import parts, share
from distillery.seals.writing import signed

MICROLITRES_A_MILLILITRE: Final = 1_000

Row = TypeVar("Row", PackageError, NominalQuantity)


@dataclass(frozen=True, slots=True)
class Band:
    """Nominal quantities from one to another, mL (None: without end), and what may be missing: % of them, or mL."""

    from_ml: Decimal
    to_ml: Decimal | None
    percent: Decimal | None = None
    millilitres: Decimal | None = None


@signed("figures of the site")
def set_package_errors(
    *, from_day: date, bands: Sequence[Band], source: str, person: Person | None = None, reason: str = ""
) -> PackageError:
    """Adds a table of tolerable negative errors from a day on and gives its first row. Raises Unsettable.

    Each band begins where the one before it ends. (The table of SI 2006/659 has nine.)
    """
    if not bands:
        raise Unsettable("bands", "Write at least one band with what may be missing.")
    _refuse_second(PackageError, from_day)
    for before, after in pairwise(bands):
        if before.to_ml is None or after.from_ml != before.to_ml:
            ends = "without end" if before.to_ml is None else f"at {figures.number(before.to_ml, 0)} mL"
            said = f"A band begins at {figures.number(after.from_ml, 0)} mL, but the one before ends {ends}."
            raise Unsettable("bands", f"{said} Let each begin where the one before it ends.")
    said = entering.said("source", source)
    rows = [
        PackageError(
            from_day=from_day,
            nominal_from_ul=_microlitres("bands", band.from_ml),
            nominal_to_ul=None if band.to_ml is None else _microlitres("bands", band.to_ml),
            share_millionths=None if band.percent is None else share("bands", band.percent),
            error_ul=None if band.millilitres is None else _microlitres("bands", band.millilitres),
            source=said,
        )
        for band in bands
    ]
    for row in rows:
        if row.nominal_to_ul is not None and row.nominal_to_ul <= row.nominal_from_ul:
            raise Unsettable("bands", "A band ends before it begins; write the smaller quantity first.")
        if (row.share_millionths is None) == (row.error_ul is None):
            raise Unsettable("bands", "Write what may be missing of each band either in % or in mL.")
    return _kept(rows, person, reason)


@signed("figures of the site")
def set_nominal_quantities(
    *,
    from_day: date,
    sizes: Sequence[Decimal],
    listed_from_ml: Decimal,
    listed_to_ml: Decimal,
    source: str,
    person: Person | None = None,
    reason: str = "",
) -> NominalQuantity:
    """Adds the sizes in which spirits may be sold from a day on, and gives the first. Raises Unsettable.

    Between the two quantities only the sizes listed may be sold, below and above any.
    """
    if not sizes:
        raise Unsettable("sizes", "Write at least one size.")
    _refuse_second(NominalQuantity, from_day)
    low, high = _microlitres("listed_from_ml", listed_from_ml), _microlitres("listed_to_ml", listed_to_ml)
    if high <= low:
        raise Unsettable("listed_to_ml", "The larger quantity is not above the smaller: check both.")
    listed = sorted({_microlitres("sizes", one) for one in sizes})
    if not low <= listed[0] <= listed[-1] <= high:
        raise Unsettable("sizes", "A size lies outside the quantities between which sizes are listed: check it.")
    ranges: list[tuple[int, int | None, str]] = [(one, one, PERMITTED) for one in listed]
    ranges += [(0, low - 1, ANY_SIZE)] if low else []
    ranges += [(low, high, LISTED_ONLY), (high + 1, None, ANY_SIZE)]
    said = entering.said("source", source)
    return _kept(
        [
            NominalQuantity(from_day=from_day, from_ul=start, to_ul=end, rule=rule, source=said)
            for start, end, rule in ranges
        ],
        person,
        reason,
    )


def _refuse_second(table: type[PackageError] | type[NominalQuantity], from_day: date) -> None:
    if table._default_manager.filter(from_day=from_day).exists():
        said = f"A table that holds from {figures.day(from_day, year=True)} is here already: give another first day."
        raise Unsettable("from_day", said)


def _microlitres(field: str, millilitres: Decimal) -> int:
    return parts(field, millilitres, MICROLITRES_A_MILLILITRE)


def _kept(rows: list[Row], person: Person | None, reason: str) -> Row:
    kept = [enter(row, person=person, reason=reason) for row in rows]
    return kept[0]
