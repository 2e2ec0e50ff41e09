"""Whether the stated uncertainties are those the plant has: the spread of a month's whitened residuals."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from ledger.comparing.drift.lasting import Searched
from ledger.comparing.drift.watching import watch
from ledger.comparing.statistics.health import health


def month_health(searched: Searched) -> dict[str, Any]:
    """Health of V over the balances of a month, faults and watches found left free. Empty while there are too few
    rows.
    """
    values = list(watch(searched.search.model).whitened.values())
    if len(values) < 2:
        return {}
    return asdict(health(np.array(values)))
