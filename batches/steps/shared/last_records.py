"""What the last records of a kind came to, for a step that compares itself with them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from statistics import median
from typing import Final

from batches.models import Record, State

LOOKED_BACK_ON: Final = 20
# Of fewer nothing is said to be usual.
FEWEST: Final = 5


def last_before(kind: str, before: datetime, *, but: str = "", most: int = LOOKED_BACK_ON) -> Sequence[Record]:
    """The newest complete records of a kind that began before a moment, one left out; the newest first. One query."""
    found = Record.objects.filter(kind=kind, state=State.COMPLETE, happened_from__lt=before).exclude(number=but)
    return list(found.order_by("-happened_from", "-pk")[:most])


def usual_length(kind: str, before: datetime, *, but: str = "") -> timedelta | None:
    """The median of how long the last twenty took; None where there are fewer than five. One query."""
    lengths = [
        (one.happened_to - one.happened_from).total_seconds()
        for one in last_before(kind, before, but=but)
        if one.happened_to is not None
    ]
    return timedelta(seconds=median(lengths)) if len(lengths) >= FEWEST else None
