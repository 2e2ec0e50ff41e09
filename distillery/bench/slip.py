"""A sum of the bench on paper: what was given, what came out, how, and that it is no record."""

from __future__ import annotations

from datetime import datetime

from distillery.bench.answer import Answer
from distillery.bench.boxes import BenchForm
from distillery.pages import Fact, Table
from distillery.printing.blocks import Block, Caution, Heading, Item, ItemList, Paragraph
from distillery.printing.document import Part, print_document
from distillery.printing.furniture import Furniture
from distillery.printing.house import impression, site
from distillery.printing.tabled.paged import figure_table

NO_RECORD = "A slip from the bench, not a record: what counts is written on the record's own sheet."
FIRST = "The site's risk assessment, local codes and licensed practice come first."


def slip_pdf(form: BenchForm, answer: Answer, *, printed_at: datetime, printed_by: str) -> bytes:
    """The slip of a form that gave an answer."""
    title = f"Bench slip: {form.title.lower()}"
    furniture = Furniture(site(), title, "Not a record", 0, impression(printed_at, printed_by))
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
    return [figure_table(table)] if table is not None and table.rows else []
