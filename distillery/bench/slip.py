"""A sum of the bench on paper: what was given, what came out, how, and that it is no record."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.conf import settings

from distillery.bench.answer import Answer
from distillery.bench.boxes import BenchForm
from distillery.pages import Fact, Table
from distillery.printing.blocks import Block, Caution, Heading, Item, ItemList, Paragraph
from distillery.printing.columns import Column
from distillery.printing.document import Part, print_document
from distillery.printing.furniture import Furniture, Impression, Site
from distillery.printing.tables import FigureTable

NO_RECORD = "A slip from the bench, not a record: what counts is written on the record's own sheet."
FIRST = "The site's risk assessment, local codes and licensed practice come first."


def site() -> Site:
    """Whose paper it is, as the settings name it."""
    return Site(settings.SITE_NAME, settings.SITE_ADDRESS, settings.SITE_APPROVAL)


def slip_pdf(form: BenchForm, answer: Answer, *, printed_at: datetime, printed_by: str) -> bytes:
    """The slip of a form that gave an answer."""
    title = f"Bench slip: {form.title.lower()}"
    furniture = Furniture(site(), title, "Not a record", 0, Impression(printed_at, printed_by))
    blocks: list[Block] = []
    if form.caution:
        blocks.append(Caution(f"{form.caution} {FIRST}"))
    blocks += [
        Heading("Given"),
        ItemList(tuple(Item(label, text, unit) for label, text, unit in form.typed())),
        Heading("Result"),
        ItemList(tuple(_item(fact) for fact in answer.facts), across=1),
        Paragraph("± is two standard uncertainties.", small=True),
    ]
    blocks += [Paragraph(text) for text in answer.remarks]
    blocks += _printed(answer.step_table) + _printed(answer.contributions)
    blocks += [Paragraph(text, small=True) for text in (*answer.notes, NO_RECORD)]
    return print_document([Part(furniture, blocks)])


def _item(fact: Fact) -> Item:
    return Item(fact.label, f"{fact.text} {fact.unit}".strip(), fact.note)


def _printed(table: Table | None) -> list[Block]:
    if table is None or not table.rows:
        return []
    columns = tuple(
        Column(column.label, column.unit, "right" if column.numeric else "left") for column in table.columns
    )
    rows: Sequence[tuple[str, ...]] = [tuple(cell.text for cell in row.cells) for row in table.rows]
    caption = f"{table.caption} ({table.note})" if table.note else table.caption
    return [FigureTable(columns, rows, caption=caption, space_above=10.0)]
