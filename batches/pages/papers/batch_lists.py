"""The lists of a batch: the runs it was distilled in, where it went, what was put right on its records."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse

from batches.pages.papers.batch import Batch
from batches.pages.records.shown import title_of
from batches.pages.tracing.lists import AheadTable, BehindTable, NotKnownTable
from distillery import figures
from distillery.lists.columns import FigureColumn, ListColumn, LpaColumn, MomentColumn
from distillery.lists.tables import HouseTable


class BatchRunTable(HouseTable):
    """The runs of a batch, in order of time."""

    kind = ListColumn("Run", lambda row: title_of(row.kind))
    number = ListColumn("Number", "number", href=lambda row: reverse("record", args=[row.kind, row.number]))
    started = MomentColumn("Charged", "started")
    pure = LpaColumn("Alcohol of the batch", "pure_ul")
    of_itself = FigureColumn("Of the run", lambda row: 100.0 * row.share, places=2, unit="%")

    name, caption = "runs", "Distilled in runs"
    note = "alcohol of the batch that passed through each; low wines and feints pass through more than one"
    nothing = "No run has taken any of it."


class RunBehindTable(HouseTable):
    """The runs that a bottling came from, in order of time."""

    kind = ListColumn("Run", lambda row: title_of(row.kind))
    number = ListColumn("Number", "number", href=lambda row: reverse("record", args=[row.kind, row.number]))
    started = MomentColumn("Charged", "started")
    pure = LpaColumn("Alcohol of the bottling", "pure_ul")
    share = FigureColumn("Of the bottling", lambda row: 100.0 * row.share, places=2, unit="%")

    name, caption = "runs", "Distilled in runs"
    note = "alcohol of the bottling that passed through each; low wines and feints pass through more than one"
    nothing = "No run on record lies behind it."


class CameThroughTable(BehindTable):
    """What a bottling came through besides its runs."""

    name, caption = "passed", "Came through"
    note = "pure alcohol of the bottling that passed through each"


class PassedTable(AheadTable):
    """What a batch went through beyond its runs."""

    name, caption = "passed", "Went through"
    note = "pure alcohol of the batch that each took"


class HeldTable(AheadTable):
    """Where a batch is now, or how it left."""

    adds_up = True
    name, caption = "held", "Where it went"
    note = "pure alcohol of the batch that each holds now, or took off the site"
    nothing = "No account holds any of it, and none has left the site."

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        """Its alcohol in all of them together."""
        held = list(rows)
        return {"pure": sum(row.pure_ul for row in held)} if held else {}


def lists_of(batch: Batch) -> list[tuple[type[HouseTable], Sequence[Any]]]:
    """The lists of a batch in their order, each with its rows."""
    listed: list[tuple[type[HouseTable], Sequence[Any]]]
    if batch.bottled:
        listed = [(RunBehindTable, batch.runs), (CameThroughTable, batch.passed)]
        listed += [(NotKnownTable, batch.trace.not_known)] if batch.trace.not_known else []
    else:
        listed = [(BatchRunTable, batch.runs), (PassedTable, batch.passed)]
    return [*listed, (HeldTable, batch.held), (BatchCorrectionTable, batch.corrections)]


class BatchCorrectionTable(HouseTable):
    """What was put right on the records of a batch."""

    record = ListColumn("Record", "record", href=lambda row: f"{reverse('find')}?{urlencode({'q': row.record})}")
    what = ListColumn("What", "what")
    old = ListColumn("Struck", "old")
    new = ListColumn("Now", "new", none="nothing put in its place")
    by = ListColumn("By", "by")
    at = ListColumn("When", lambda row: figures.moment(row.at, year=True))
    why = ListColumn("Why", "why")

    name, caption = "put-right", "Corrections"
    nothing = "None."
