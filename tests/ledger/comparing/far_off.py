"""The figures that stand out from their kind, as the tests ask for them."""

from __future__ import annotations

from ledger.comparing.model.kinds.deviations import Deviation, deviations_in


def outliers(period: str | None = None) -> list[Deviation]:
    """Those of a period, or of everything posted, that lie beyond the level of a finding; furthest first."""
    return sorted((one for one in deviations_in(period) if one.is_outlier), key=lambda one: -abs(one.z))
