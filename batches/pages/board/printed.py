"""The board on paper: every picture over its figures, in one document."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from batches.board.reading import Board
from batches.pages.board.lists import Part, parts_of
from batches.pages.board.tables import plain
from distillery.printing.blocks import Block, Heading, Item, ItemList, Paragraph
from distillery.printing.digest import digest_of, digest_statement
from distillery.printing.document import Part as Pages
from distillery.printing.document import print_document
from distillery.printing.drawn.picture import Picture
from distillery.printing.furniture import Furniture
from distillery.printing.house import impression, site
from distillery.printing.tabled.paged import figure_table

TITLE = "Board"


def board_pdf(board: Board, *, printed_at: datetime, printed_by: str) -> bytes:
    """The PDF, on its side, as tables of stages and causes are wide."""
    digest = digest_of(plain(board))
    number = f"{board.span.first} to {board.span.last}"
    furniture = Furniture(site(), TITLE, number, 0, impression(printed_at, printed_by), digest)
    months = f"{board.months[0].name} to {board.months[-1].name}"
    blocks: list[Block] = [ItemList((Item("Months", months),), across=1)]
    for part in parts_of(board):
        blocks += _shown(part)
    blocks.append(digest_statement(digest))
    return print_document([Pages(furniture, blocks, landscape=True)])


def _shown(part: Part) -> list[Block]:
    blocks: list[Block] = []
    for picture in part.pictures:
        blocks.append(Heading(picture.caption))
        blocks.append(Picture(picture.chart) if picture.chart else Paragraph(picture.nothing))
        if picture.note:
            blocks.append(Paragraph(f"{picture.note[:1].upper()}{picture.note[1:]}.", small=True))
    if part.rows and not part.is_folded:
        table = part.whole()
        whole = table.whole()
        blocks.append(figure_table(replace(whole, total=table.total)))
    return blocks
