"""Periods of account: which one a moment belongs to, which are closed, and how one is closed by two people."""

from ledger.periods.calendar import is_closed, open_from, period_of
from ledger.periods.models import Closing

__all__ = ["Closing", "is_closed", "open_from", "period_of"]
