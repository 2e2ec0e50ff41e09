"""The way in for a month, or for everything posted."""

from __future__ import annotations

from dataclasses import replace

from distillery.plant.lookup import Plant
from ledger.comparing.compare import Comparison, compare
from ledger.comparing.findings.beyond_band import with_casks_beyond
from ledger.comparing.findings.finding import Finding, in_order
from ledger.comparing.findings.stock_apart import stock_apart
from ledger.comparing.findings.untimely import untimely
from ledger.comparing.model.kinds.deviations import deviations_in
from ledger.comparing.observations.from_ledger import log_of, operations_in
from ledger.comparing.observations.sealed_rows import sealed_rows
from ledger.comparing.remembered import NOTHING, Remembered
from ledger.comparing.uncollected import uncollected


@uncollected()
def compare_month(period: str | None = None, plant: Plant | None = None, known: Remembered = NOTHING) -> Comparison:
    """One month ('2027-03') compared, or everything posted, with all its findings; made from nothing unless parts of
    it are `known`, and then the same to the last digit. Raises NoSuchPeriod."""
    rows = sealed_rows(operations_in(period), known)
    log, deviations = log_of(period, rows, known), deviations_in(period, rows, known)
    compared = compare(log, plant or _plant_of(known), deviations=deviations, known=known)
    found = with_casks_beyond([*compared.findings, *stock_apart(period), *untimely(period)], period)
    return replace(compared, findings=tuple(in_order(found)))


def _plant_of(known: Remembered) -> Plant:
    """The plant as it stands; the one that was read before where the parts that are known were made with it."""
    return known.part((Plant, known.plant), Plant) if known.plant else Plant()


def findings(period: str | None = None) -> list[Finding]:
    """Findings of one month ('2027-03'), or of everything posted, most serious first. Raises NoSuchPeriod."""
    return list(compare_month(period).findings)
