"""The whole of a batch on paper, portrait: malt to where it went, in one document."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from batches.pages.papers.along_the_way import readings_curve, readings_table
from batches.pages.papers.batch import MOST_WHOLE, Batch, brings_malt
from batches.pages.papers.batch_lists import lists_of
from batches.pages.records.readings import readings_of
from batches.pages.records.shown import RecordAsWritten
from batches.pages.tracing.names import kind_name
from distillery import figures, pages
from distillery.lists.exports import carried_forward
from distillery.printing.blocks import Block, Heading, Item, ItemList, Paragraph
from distillery.printing.digest import digest_of, digest_statement
from distillery.printing.document import Part, print_document
from distillery.printing.furniture import Furniture
from distillery.printing.house import impression, site
from distillery.printing.signing import Signatures
from distillery.printing.tabled.paged import figure_table

TITLE = "Batch record"
MALT_LOT = "malt lot"
MIXED = "Shares are of pure alcohol; contents of a vessel are taken as well mixed."


def facts_of(batch: Batch) -> list[pages.Fact]:
    """What a batch is: its number and time, what lies behind it, and how much alcohol of it is in the books."""
    record = batch.begun.record
    lots = [one for one in batch.trace.back if not batch.bottled or one.kind == MALT_LOT]
    malt = [f"{kind_name(one.kind)} {one.record}" for one in lots]
    known = batch.trace.ahead_ul > 0 or not brings_malt(batch.begun.sheet)
    return [
        pages.Fact("Batch", record.number),
        pages.Fact("Bottled" if batch.bottled else "Begun", figures.moment(record.happened_from, year=True)),
        *([pages.Fact("Made of", ", ".join(malt))] if malt else []),
        *([_alcohol(batch)] if known else []),
    ]


def _alcohol(batch: Batch) -> pages.Fact:
    label = "Alcohol that went into it" if batch.bottled else "Alcohol that came of it"
    return pages.Fact(label, figures.lpa(round(batch.trace.ahead_ul)), unit="LPA")


def others_of(batch: Batch) -> str:
    """What is said where not all mashes and fermentations are shown whole; blank where all are."""
    if len(batch.worked) < MOST_WHOLE:
        return ""
    return f"The {MOST_WHOLE} mashes and fermentations with most of it are shown whole; others are in the lists."


def batch_pdf(batch: Batch, *, printed_at: datetime, printed_by: str) -> bytes:
    """The PDF."""
    lists = [table(rows) for table, rows in lists_of(batch)]
    tables = [replace(one.whole(), total=one.total_row()) for one in lists]
    worked = [(one.record.number, one.latest.digest, _sections(one)) for one in (batch.begun, *batch.worked)]
    digest = digest_of({"batch": facts_of(batch), "records": worked, **{one.caption: one for one in tables}})
    blocks: list[Block] = [
        Heading("What this batch is"),
        ItemList(tuple(Item(one.label, one.text, one.unit) for one in facts_of(batch)), across=1),
        *([Paragraph(others_of(batch))] if others_of(batch) else []),
    ]
    for record in (batch.begun, *batch.worked):
        blocks += _record(record, named=record is not batch.begun)
    for one, table in zip(lists, tables, strict=True):
        printed = carried_forward(figure_table(table, captioned=False), one, list(one.all_rows()))
        blocks += [Heading(table.caption), printed]
    blocks += [Paragraph(MIXED, small=True), digest_statement(digest), Signatures()]
    printing = impression(printed_at, printed_by)
    furniture = Furniture(site(), TITLE, batch.begun.record.number, 0, printing, digest)
    return print_document([Part(furniture, blocks)])


def _sections(written: RecordAsWritten) -> list[tuple[str, list[pages.Fact]]]:
    return [(one.heading, facts) for one in written.sheet.sections if (facts := written.facts_of(one))]


def _record(written: RecordAsWritten, *, named: bool) -> list[Block]:
    blocks: list[Block] = []
    for heading, facts in _sections(written):
        blocks.append(Heading(f"{written.record.number}: {heading}" if named else heading))
        blocks.append(ItemList(tuple(_item(one) for one in facts)))
    readings = readings_of(written) if written.sheet.readings else []
    table, curve = readings_table(written, readings, brief=False), readings_curve(written, readings)
    if table is not None:
        blocks += [Heading(f"{written.record.number}: Readings"), table, *([curve] if curve is not None else [])]
    return blocks


def _item(fact: pages.Fact) -> Item:
    mark, _, old = fact.note.partition(": ")
    return Item(fact.label, fact.text, fact.unit, old.removesuffix(" struck"), mark if old else "")
