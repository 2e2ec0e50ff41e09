"""What a lot of malt promises: its extract, and its predicted spirit yield as given or worked out from its analysis.

Soluble extract as is × fermentability × 6.06 (J. Inst. Brew. 102 (1996) 433-437). The figure allows for the losses of
the process already, so nothing is taken off it again.
"""

from __future__ import annotations

from batches.models import Record
from batches.sheets.site import Site
from distillery.alcoholometry.wort import extract_as_is_percent, predicted_spirit_yield_lpa_per_tonne

AS_IS, DRY = "as is", "dry"
YIELD = "predicted_spirit_yield_lpa_per_tonne"
EXTRACT, BASIS = "soluble_extract_percent", "extract_basis"
FERMENTABILITY, MOISTURE = "fermentability_percent", "moisture_percent"


def yield_by_analysis(
    *, extract: float | None, basis: str, moisture: float | None, fermentability: float | None
) -> float | None:
    """LPA a tonne as malted from soluble extract (% on its basis), moisture and fermentability (%); None where one of
    them is not known. 77.0 % as is and 87 % give 406.
    """
    found = as_is(extract=extract, basis=basis, moisture=moisture)
    if found is None or fermentability is None:
        return None
    return predicted_spirit_yield_lpa_per_tonne(soluble_extract_percent=found, fermentability_percent=fermentability)


def as_is(*, extract: float | None, basis: str, moisture: float | None) -> float | None:
    """Soluble extract of the malt as it is, %, from one on its basis; None where that, or of a dry one the moisture, is
    not known."""
    if extract is None or basis == AS_IS:
        return extract
    if basis != DRY or moisture is None:
        return None
    return extract_as_is_percent(dry_extract_percent=extract, moisture_percent=moisture)


def predicted_yield(site: Site, lot: Record) -> float | None:
    """LPA a tonne that a lot's intake tells: given, else by its analysis; None where neither is known."""
    given = site.told_number(lot, YIELD)
    if given is not None:
        return given
    return yield_by_analysis(
        extract=site.told_number(lot, EXTRACT),
        basis=site.told_text(lot, BASIS),
        moisture=site.told_number(lot, MOISTURE),
        fermentability=site.told_number(lot, FERMENTABILITY),
    )


def extract_by_certificate(site: Site, lot: Record) -> float | None:
    """Soluble extract of a lot as is, % of its mass, by its certificate; None where that does not tell."""
    return as_is(
        extract=site.told_number(lot, EXTRACT),
        basis=site.told_text(lot, BASIS),
        moisture=site.told_number(lot, MOISTURE),
    )
