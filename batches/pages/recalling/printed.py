"""A recall on paper: what was recalled, by whom and why, and all that it touched as the books stood."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from batches.pages.recalling.facts import facts_of
from batches.pages.recalling.found import Found
from batches.pages.recalling.lists import BottledTable, InPlaceTable, InStockTable, LeftTable, OtherTable
from batches.pages.tracing.drawn import AHEAD
from batches.pages.tracing.printed import MIXED, as_the_books_stood, list_blocks, pictures_of
from batches.recalls.models import Recall
from batches.recalls.recalling import shown_of
from batches.tracing.trace import Trace
from distillery import pages
from distillery.lists.tables import HouseTable
from distillery.printing.blocks import Block, Item, ItemList, Paragraph
from distillery.printing.digest import digest_of, digest_statement
from distillery.printing.document import Part, print_document
from distillery.printing.furniture import Furniture
from distillery.printing.house import impression, site

TITLE = "What it touched"


def recall_pdf(trace: Trace, found: Found, standing: Recall | None, *, printed_at: datetime, printed_by: str) -> bytes:
    """The PDF, landscape."""
    tables, facts, said = _tables(found), facts_of(found), _said(standing)
    digest = recall_digest(found, standing)
    blocks: list[Block] = [
        Paragraph(as_the_books_stood()),
        ItemList(tuple(Item(label, text) for label, text in said.items()), across=1),
        ItemList(tuple(Item(one.label, _figure(one)) for one in facts), across=2),
        Paragraph(f"{MIXED} What is less than one part in a million of what is in a thing is left out."),
    ]
    for table in tables:
        blocks += list_blocks(table)
    blocks += [*pictures_of(trace, AHEAD, "What came of it"), digest_statement(digest)]
    furniture = Furniture(site(), TITLE, trace.start.ref, 0, impression(printed_at, printed_by), digest)
    return print_document([Part(furniture, blocks, landscape=True)])


def recall_digest(found: Found, standing: Recall | None) -> str:
    """The digest at the foot of it: of what was said of the recall, and of every line of its lists."""
    return digest_of({**_said(standing), **{one.name: _lines(one) for one in _tables(found)}})


def _tables(found: Found) -> list[HouseTable]:
    return [
        LeftTable(found.left),
        InStockTable(found.in_stock),
        BottledTable(found.bottled),
        InPlaceTable(found.in_places),
        OtherTable(found.others),
    ]


def _said(standing: Recall | None) -> Mapping[str, str]:
    return shown_of(standing) if standing is not None else {"Recalled": "no"}


def _figure(fact: pages.Fact) -> str:
    return " ".join(part for part in (fact.text, fact.unit, f"({fact.note})" if fact.note else "") if part)


def _lines(table: HouseTable) -> Sequence[Sequence[str]]:
    return [[str(value) for value in row] for row in table.plain_rows()]
