"""What several steps say of washbacks: which one a mash or fermentation is in, and what a spirit gauge cannot tell."""

from __future__ import annotations

from batches.completed import Completed, Written
from batches.sheet import Note, Problem
from distillery.plant.models import Kind as VesselKind


def other_washback(written: Completed, named_by: str, sentence: str) -> list[Note]:
    """A note where the washback is not the one that the record in a field was written with."""
    record = written.record(named_by)
    there = written.site.typed_of(record).get("washback", "")
    washback = written.vessel("washback")
    if not there or there.casefold() == washback.code.casefold():
        return []
    said = sentence.format(record=record.number, there=there, here=washback.code)
    return [Note("washback", None, said, instead=there)]


def holds_wash(written: Written, prefix: str, row: int | None) -> list[Problem]:
    """A problem where a hydrometer gauge is taken of a washback that is not empty: wash is proved by its gravities."""
    gauge = written.sheet.gauge(prefix)
    vessel = written.vessel(gauge.vessel)
    if vessel.kind != VesselKind.WASHBACK or written.dipped(gauge).litres == 0:
        return []
    return [
        Problem(
            gauge.vessel,
            row,
            f"{vessel.code} is a washback: what it holds is declared by its fermentation, so only an empty one is "
            "gauged here.",
        )
    ]
