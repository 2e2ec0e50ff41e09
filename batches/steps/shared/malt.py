"""The predicted spirit yield of a lot of malt: as it was given, or worked out from its analysis.

Soluble extract as is × fermentability × 6.06 (J. Inst. Brew. 102 (1996) 433-437). The figure allows for the losses of
the process already, so nothing is taken off it again.
"""

from __future__ import annotations

from batches.models import Record
from batches.sheets.typed.completed import Written
from batches.steps.shared.figures import told_number
from distillery.alcoholometry.wort import extract_as_is_percent, predicted_spirit_yield_lpa_per_tonne

AS_IS, DRY = "as is", "dry"
YIELD = "predicted_spirit_yield_lpa_per_tonne"
EXTRACT, FERMENTABILITY, MOISTURE = "soluble_extract_percent", "fermentability_percent", "moisture_percent"


def yield_by_analysis(
    *, extract: float | None, basis: str, moisture: float | None, fermentability: float | None
) -> float | None:
    """LPA a tonne as malted from soluble extract (% on its basis), moisture and fermentability (%); None where one of
    them is not known. 77.0 % as is and 87 % give 406.
    """
    if extract is None or fermentability is None or (basis == DRY and moisture is None):
        return None
    as_is = (
        extract_as_is_percent(dry_extract_percent=extract, moisture_percent=moisture)
        if basis == DRY and moisture is not None
        else extract
    )
    return predicted_spirit_yield_lpa_per_tonne(soluble_extract_percent=as_is, fermentability_percent=fermentability)


def extract_as_is(written: Written, lot: Record) -> float | None:
    """Soluble extract of a lot as it is, % by mass, from what its intake tells; None where the basis or, of a dry one,
    the moisture is not known.
    """
    extract, basis = told_number(written, lot, EXTRACT), written.site.told(lot, "extract_basis")
    moisture = told_number(written, lot, MOISTURE)
    if extract is None or basis == AS_IS:
        return extract
    if basis != DRY or moisture is None:
        return None
    return extract_as_is_percent(dry_extract_percent=extract, moisture_percent=moisture)


def predicted_yield(written: Written, lot: Record) -> float | None:
    """LPA a tonne that a lot's intake tells: given, else by its analysis; None where neither is known."""
    given = told_number(written, lot, YIELD)
    if given is not None:
        return given
    return yield_by_analysis(
        extract=told_number(written, lot, EXTRACT),
        basis=written.site.told(lot, "extract_basis"),
        moisture=told_number(written, lot, MOISTURE),
        fermentability=told_number(written, lot, FERMENTABILITY),
    )
