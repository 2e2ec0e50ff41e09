"""The years a site can write about. Outside them a time is a slip, and near year 1 and 9999 no clock can be turned."""

from __future__ import annotations

from datetime import datetime
from typing import Final

EARLIEST_YEAR: Final = 1900
LATEST_YEAR: Final = 2199


def is_of_a_site(when: datetime | int) -> bool:
    """True for a year, or a time within one, that a record can lie in."""
    year = when if isinstance(when, int) else when.year
    return EARLIEST_YEAR <= year <= LATEST_YEAR
