"""The whole of a batch, from its malt to where it went: what page and paper show of it.

A batch begins with a record that takes malt. What worked on it (its fermentation), the runs it was distilled in and
where it went follow from the trace: shares of pure alcohol, vessels taken as well mixed. Nothing of it is kept.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from batches.models import Record
from batches.pages.papers.run_sheet import is_run
from batches.pages.records.links import LEAST_SHARE
from batches.pages.records.readings import readings_of
from batches.pages.records.shown import RecordAsWritten
from batches.pages.tracing.lists import in_order
from batches.sheets.sheet import Sheet
from batches.steps import sheet_of
from batches.stores.kinds import MaterialKind
from batches.tracing.trace import Trace, Traced, follow_trace, refer


@dataclass(frozen=True, slots=True)
class RunOfBatch:
    """A run with what of the batch passed through it: whole microlitres of pure alcohol, and its share of the run."""

    number: str
    kind: str
    started: datetime
    pure_ul: int
    of_itself: float


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
    """One batch. `worked` are the records between the one it begins with and its runs, `passed` those it went through
    besides, `held` the casks, vessels and stocks where it is now. What took less than LEAST_SHARE of it is left out of
    runs and `passed`: shares of a mix never quite end."""

    begun: RecordAsWritten
    trace: Trace
    worked: tuple[RecordAsWritten, ...]
    runs: tuple[RunOfBatch, ...]
    passed: tuple[Traced, ...]
    held: tuple[Traced, ...]
    corrections: tuple[CorrectionOfBatch, ...]


def begins_a_batch(sheet: Sheet) -> bool:
    """Whether the records of a step each begin a batch: they take malt, and go on."""
    return sheet.running is not None and any(one.kind == MaterialKind.MALT for one in sheet.materials)


def batch_of(begun: RecordAsWritten) -> Batch:
    """The batch that a record begins. A dozen queries and some for each record it names."""
    trace = follow_trace(refer(begun.record.number))
    ahead = {one.record_id: one for one in trace.forward if one.record_id is not None and one.of_all >= LEAST_SHARE}
    records = Record.objects.filter(pk__in=ahead).select_related("opened_by", "second").order_by("happened_from", "pk")
    written = [RecordAsWritten(one, sheet_of(one.kind)) for one in records]
    worked = [one for one in written if one.sheet.readings and not is_run(one.sheet) and one.sheet.works_in is not None]
    runs = [one for one in written if is_run(one.sheet)]
    shown = {one.record.pk for one in (begun, *worked, *runs)}
    return Batch(
        begun,
        trace,
        tuple(worked),
        tuple(_run(one, ahead[one.record.pk]) for one in runs),
        tuple(in_order(one for key, one in ahead.items() if key not in shown)),
        tuple(in_order(one for one in trace.forward if one.record_id is None)),
        tuple(put_right for one in (begun, *worked, *runs) for put_right in _corrections(one)),
    )


def _run(written: RecordAsWritten, traced: Traced) -> RunOfBatch:
    record = written.record
    return RunOfBatch(record.number, record.kind, record.happened_from, traced.pure_ul, traced.of_itself)


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
