"""The account of a vessel over one month on paper: balance line, entries with running balance, what was measured."""

from __future__ import annotations

from collections.abc import Sequence

from distillery.lists.exports import MOST_ON_PAPER, as_printed, carried_forward
from distillery.lists.tables import HouseTable
from distillery.printing.balance import BalanceRow, balance_table
from distillery.printing.blocks import Block, Heading, Paragraph
from distillery.printing.digest import digest_of, digest_statement
from distillery.printing.document import Part
from distillery.printing.furniture import Furniture, Impression
from distillery.printing.house import site
from distillery.printing.paper import BOLD
from distillery.printing.signing import Signatures
from distillery.printing.tabled.paged import figure_table

TITLE = "Vessel account"


def account_part(
    number: str,
    line: BalanceRow | None,
    lists: Sequence[HouseTable],
    enquiries: Sequence[str],
    impression: Impression,
) -> Part:
    """Its pages, landscape. `lists` are its entries and what was measured, oldest first, up to MOST_ON_PAPER lines
    each. `enquiries` say how each stands as this is printed, and are no part of the digest."""
    blocks: list[Block] = []
    data: dict[str, object] = {"balance": line}
    if line is not None:
        blocks += [Heading("Balance"), balance_table((line,), closing="Closing")]
    for table in lists:
        rows, goes_on = table.first_of(MOST_ON_PAPER)
        shown = as_printed(table, rows, None if goes_on else table.total_row())
        data[table.caption] = shown
        blocks += [Heading(table.caption), carried_forward(figure_table(shown, captioned=False), table, rows)]
        if goes_on:
            blocks.append(Paragraph(f"The list goes on: paper takes its first {MOST_ON_PAPER} lines.", BOLD))
    if enquiries:
        blocks += [Heading("Enquiries"), *(Paragraph(sentence) for sentence in enquiries)]
    digest = digest_of(data)
    blocks += [digest_statement(digest), Signatures()]
    return Part(Furniture(site(), TITLE, number, 0, impression, digest), blocks, landscape=True, data=data)
