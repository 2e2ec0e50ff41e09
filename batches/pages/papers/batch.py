"""The whole of a batch, from its malt to where it went: what page and paper show of it.

A batch begins with a record that takes malt. It is followed on from there, or from the malt lot itself, or back from
the bottling it ended in. What worked on it (its fermentation), the runs it was distilled in and where it went follow
from the trace: shares of pure alcohol, vessels taken as well mixed. Nothing of it is kept.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from batches.models import Record, State
from batches.pages.papers.run_sheet import is_run
from batches.pages.records.links import LEAST_SHARE
from batches.pages.records.readings import readings_of
from batches.pages.records.shown import RecordAsWritten
from batches.pages.tracing.lists import in_order
from batches.sheets.register import all_sheets
from batches.sheets.sheet import Sheet
from batches.steps import sheet_of
from batches.stores.kinds import MaterialKind
from batches.tracing.trace import Trace, Traced, follow_trace, refer

# Mashes and fermentations of a batch that are shown whole; the others stand in its lists.
MOST_WHOLE: Final = 40
# Half of a hundredth of a litre: less is written as 0.00.
LEAST_SHOWN_UL: Final = 5_000


@dataclass(frozen=True, slots=True)
class RunOfBatch:
    """A run with what of the batch passed through it: whole microlitres of pure alcohol, and `share`: of the run, or,
    followed back from a bottling, of that bottling."""

    number: str
    kind: str
    started: datetime
    pure_ul: int
    share: float


@dataclass(frozen=True, slots=True)
class CorrectionOfBatch:
    """A value put right on a record of the batch."""

    record: str
    what: str
    old: str
    new: str
    by: str
    at: datetime
    why: str


@dataclass(frozen=True, slots=True)
class Batch:
    """One batch, followed from where it begins, or back from the bottling it ended in. `worked` are the mashes and
    fermentations shown whole besides the record it is followed from, `passed` what it went through besides its runs,
    `held` the casks, vessels and stocks where it is now, and the records it left the site by. What took or gave less
    than LEAST_SHARE of it is left out of runs and `passed`: shares of a mix never quite end."""

    begun: RecordAsWritten
    trace: Trace
    worked: tuple[RecordAsWritten, ...]
    runs: tuple[RunOfBatch, ...]
    passed: tuple[Traced, ...]
    held: tuple[Traced, ...]
    corrections: tuple[CorrectionOfBatch, ...]

    @property
    def bottled(self) -> bool:
        """Whether it is followed back from a bottling."""
        return self.begun.sheet.fills_bottles


def begins_a_batch(sheet: Sheet) -> bool:
    """Whether the records of a step each begin a batch: they take malt, and go on."""
    return sheet.running is not None and any(one.kind == MaterialKind.MALT for one in sheet.materials)


def brings_malt(sheet: Sheet) -> bool:
    """Whether malt comes in by the records of a step, each a lot."""
    return any(one.kind == MaterialKind.MALT for one in sheet.receives)


def has_batch(record: Record, sheet: Sheet) -> bool:
    """Whether a batch can be followed from a record of the step: from its malt or its mash on, or from its bottling
    back. From a void one nothing can: no link begins at it."""
    if record.state == State.VOID:
        return False
    return begins_a_batch(sheet) or brings_malt(sheet) or sheet.fills_bottles


def batch_of(begun: RecordAsWritten) -> Batch:
    """The batch that is followed from a record. A dozen queries and some for each record it names."""
    trace = follow_trace(refer(begun.record.number))
    way = trace.back if begun.sheet.fills_bottles else trace.forward
    on_it = {one.record_id: one for one in way if one.record_id is not None and one.of_all >= LEAST_SHARE}
    records = Record.objects.filter(pk__in=on_it).select_related("opened_by", "second").order_by("happened_from", "pk")
    written = [RecordAsWritten(one, sheet_of(one.kind)) for one in records]
    worked = _shown_whole(begun.sheet, written, on_it)
    runs = [one for one in written if is_run(one.sheet)]
    shown = {one.record.pk for one in (begun, *worked, *runs)}
    left = _left(trace)
    return Batch(
        begun,
        trace,
        tuple(worked),
        tuple(_run(one, on_it[one.record.pk], back=begun.sheet.fills_bottles) for one in runs),
        tuple(in_order(one for key, one in on_it.items() if key not in shown and key not in left)),
        tuple(in_order(_held(trace, left))),
        tuple(put_right for one in (begun, *worked, *runs) for put_right in _corrections(one)),
    )


def _shown_whole(begun: Sheet, written: list[RecordAsWritten], on_it: dict[int, Traced]) -> list[RecordAsWritten]:
    """The mashes and fermentations, in order of time; of very many those with most of the batch."""
    worked = [one for one in written if _works(one.sheet) or (begins_a_batch(one.sheet) and not begins_a_batch(begun))]
    largest = sorted(worked, key=lambda one: -on_it[one.record.pk].of_all)[:MOST_WHOLE]
    return [one for one in worked if one in largest]


def _left(trace: Trace) -> set[int]:
    """The records by which some of it left the site."""
    leaving = [sheet.kind for sheet in all_sheets() if sheet.leaves is not None]
    ahead = [one.record_id for one in trace.forward if one.record_id is not None]
    return set(Record.objects.filter(pk__in=ahead, kind__in=leaving).values_list("pk", flat=True))


def _held(trace: Trace, left: set[int]) -> list[Traced]:
    """Where all of it is: what accounts hold of it now, and not what they held once, and what left the site. What
    would stand there as nothing is left out."""
    held = []
    for one in trace.forward:
        now = sum(trace.held.get(one.account_id, {}).values()) if one.account_id is not None else 0.0
        pure = one.pure_ul if one.record_id in left else round(now)
        if pure >= LEAST_SHOWN_UL:
            held.append(replace(one, pure_ul=pure, of_all=pure / trace.ahead_ul if trace.ahead_ul else 0.0))
    kinds = {kind: sum(one.pure_ul for one in held if one.kind == kind) for kind in {one.kind for one in held}}
    return [replace(one, share=one.pure_ul / kinds[one.kind]) for one in held]


def _works(sheet: Sheet) -> bool:
    return bool(sheet.readings) and not is_run(sheet) and sheet.works_in is not None


def _run(written: RecordAsWritten, traced: Traced, *, back: bool) -> RunOfBatch:
    record = written.record
    share = traced.of_all if back else traced.of_itself
    return RunOfBatch(record.number, record.kind, record.happened_from, traced.pure_ul, share)


def _corrections(written: RecordAsWritten) -> list[CorrectionOfBatch]:
    number = written.record.number
    on_sheet = [
        CorrectionOfBatch(
            number,
            one.label,
            one.old,
            one.new,
            one.version.person.shown_name,
            one.version.written_at,
            one.version.reason or "written again before it was complete",
        )
        for one in written.changes
    ]
    along = []
    for one in readings_of(written) if written.sheet.readings else []:
        by = getattr(one, "struck_by", None)
        if by is not None and one.value:
            declared = written.sheet.reading(one.quantity)
            label = declared.label if declared is not None else one.quantity
            along.append(
                CorrectionOfBatch(number, label, one.value, by.value, by.person.shown_name, by.written_at, by.reason)
            )
    return [*on_sheet, *along]
