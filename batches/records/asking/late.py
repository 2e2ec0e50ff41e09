"""Why something is written long after it happened: asked once, of whoever writes on a page, and kept with the entry.

A late entry is shown, never hidden or refused. Records must be 'entered up promptly' (Excise Warehousing (Etc.)
Regulations 1988, SI 1988/809, regulation 21(4)(a)); after how long an entry counts as late is common practice, no
source.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Final

from batches.models import Version
from batches.records.asking.questions import Question, Sure, Why, ask
from batches.sheets.declared import Kind
from batches.sheets.typed.read_sheet import Filled
from distillery import figures
from distillery.clock.reading import LATE_AFTER

# What is usually the reason; anything else is written in words.
REASONS: Final = (
    "The PC was not to be had",
    "Written on a blank sheet first",
    "Other work came first",
    "It was forgotten",
    "Known only later",
)


def ask_why_late(
    filled: Filled, *, now: datetime, reason: str | None, sure: Sure, before: Mapping[str, str] | None = None
) -> None:
    """Asks about the newest time of a sheet that is new or changed since `before`, where it lies long back.

    `reason` is what was written of it: None where the writer has no box for one and is not asked. Raises Asked.
    """
    stood = before or {}
    times = [
        (filled.completed.moment(one.name), one.name, one.label)
        for one in filled.completed.sheet.fields
        if one.kind == Kind.MOMENT
        and filled.completed.has(one.name)
        and filled.typed.get(one.name) != stood.get(one.name)
    ]
    if times:
        at, name, label = max(times)
        ask(_questions(name, label, at, now, reason), sure)


def ask_why_readings_late(name: str, label: str, at: datetime, *, now: datetime, reason: str | None) -> None:
    """The same of a reading along the way. Raises Asked."""
    ask(_questions(name, label, at, now, reason), False)


def is_late(at: datetime, now: datetime) -> bool:
    """True for what is written long after it happened, both by the books' clock."""
    return now - at > LATE_AFTER


def reasons_given(records: Collection[str]) -> dict[str, str]:
    """Why some records were written late, by number, the newest reason of each. One query."""
    versions = Version.objects.filter(record__number__in=records).exclude(late_reason="")
    return dict(versions.order_by("serial").values_list("record__number", "late_reason"))


def _questions(name: str, label: str, at: datetime, now: datetime, reason: str | None) -> list[Question]:
    if reason is None or reason or not is_late(at, now):
        return []
    sentence = f"{label} is {figures.moment(at)}, {figures.span(now - at)} ago. Why is it written only now?"
    said = at.isoformat(timespec="minutes")
    return [Question(name, Why.LATE, sentence, said, "", choices=REASONS)]
