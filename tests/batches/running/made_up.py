"""Runs that are made up for a test, without a database: a sheet, times in hours since its beginning, and readings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta

from batches.models import Record, State
from batches.running.runs import Reading, Run
from batches.steps import sheet_of

BEGUN = datetime(2027, 3, 9, 22, 0, tzinfo=UTC)
TIMES = "%Y-%m-%dT%H:%M:%SZ"


def at(hours: float) -> datetime:
    return BEGUN + timedelta(hours=hours)


def typed_at(hours: float) -> str:
    return at(hours).strftime(TIMES)


def run_of(
    kind: str = "spirit_run",
    *,
    readings: Iterable[tuple[float, str, str]] = (),
    typed: Mapping[str, str] | None = None,
    ended: float | None = None,
    number: str = "SR0001",
) -> Run:
    """A run with readings of (hours, quantity, value)."""
    sheet = sheet_of(kind)
    assert sheet.running is not None
    record = Record(
        pk=1,
        kind=kind,
        number=number,
        state=State.OPEN if ended is None else State.COMPLETE,
        happened_from=BEGUN,
        happened_to=None if ended is None else at(ended),
    )
    rows = [
        Reading(place, at(hours), quantity, value, None, "", 1, at(hours))
        for place, (hours, quantity, value) in enumerate(sorted(readings), start=1)
    ]
    return Run(record, sheet, sheet.running, dict(typed or {}), 1, rows)
