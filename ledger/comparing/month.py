"""The way in for a month, or for everything posted."""

from __future__ import annotations

from dataclasses import replace

from distillery.plant.lookup import Plant
from ledger.comparing.compare import Comparison, compare
from ledger.comparing.findings.finding import Finding, in_order
from ledger.comparing.findings.untimely import untimely
from ledger.comparing.model.kinds.deviations import deviations_in
from ledger.comparing.observations.from_ledger import log_of
from ledger.comparing.uncollected import uncollected


@uncollected()
def compare_month(period: str | None = None, plant: Plant | None = None) -> Comparison:
    """One month ('2027-03') compared, or everything posted, with all its findings. Raises NoSuchPeriod."""
    compared = compare(log_of(period), plant or Plant(), deviations=deviations_in(period))
    return replace(compared, findings=tuple(in_order([*compared.findings, *untimely(period)])))


def findings(period: str | None = None) -> list[Finding]:
    """Findings of one month ('2027-03'), or of everything posted, most serious first. Raises NoSuchPeriod."""
    return list(compare_month(period).findings)
