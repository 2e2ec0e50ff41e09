"""The sheet for walking a warehouse: its casks in the order in which they lie, with room for what is seen."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from itertools import groupby

from batches.pages.places.cask_table import head_of
from batches.sheets.cautions import CASKS, VAPOUR
from batches.sheets.sheet import STANDING_CAUTION
from distillery import figures
from distillery.clock.reading import books_time, site_day
from distillery.plant.models import Cask, place_said
from distillery.printing.blocks import Block, Heading, Item, ItemList, Paragraph
from distillery.printing.document import Part, print_document
from distillery.printing.furniture import Furniture
from distillery.printing.house import impression, site
from distillery.printing.tabled.columns import Column, figure_column
from distillery.printing.tabled.tables import FigureTable
from ledger.models import Balance

TITLE = "Walk sheet"
# Beyond this a warehouse is walked row by row.
MOST_ON_A_SHEET = 1000
ROOM = "_" * 12


def walk_sheet_pdf(warehouse: str, row: str, casks: Sequence[Cask], *, printed_at: datetime, printed_by: str) -> bytes:
    """The PDF, landscape; the casks in walking order, one more than fit where there are more."""
    day = site_day(books_time(printed_at))
    shown = casks[:MOST_ON_A_SHEET]
    balances = Balance.objects.filter(account__vessel__in=[one.pk for one in shown])
    held = dict(balances.values_list("account__vessel_id", "balance_ul"))
    blocks: list[Block] = [
        ItemList(
            (
                Item("Warehouse", place_said(warehouse, row, "") or "none"),
                Item("Casks", figures.count(len(shown))),
                Item("Walked by", ROOM),
                Item("Walked at", ROOM),
                Item("Air, °C", ROOM),
                Item("Relative humidity, %", ROOM),
            )
        ),
        Paragraph(f"{CASKS.sentence} {VAPOUR.sentence} {STANDING_CAUTION}", small=True),
    ]
    if len(casks) > MOST_ON_A_SHEET:
        blocks.append(Paragraph(f"The first {MOST_ON_A_SHEET} casks: print the others row by row."))
    for name, in_row in groupby(shown, key=lambda one: one.row):
        blocks += [Heading(f"Row {name}" if name else "Row not recorded"), _table(list(in_row), held)]
    if not shown:
        blocks.append(Paragraph("No cask lies here by the books."))
    number = f"{place_said(warehouse, row, '') or 'none'}, {figures.day(day, year=True)}"
    furniture = Furniture(site(), TITLE, number, 0, impression(printed_at, printed_by))
    return print_document([Part(furniture, blocks, landscape=True)])


def _table(casks: Sequence[Cask], held: dict[int, int]) -> FigureTable:
    columns = (
        Column("Tier"),
        Column("Cask"),
        Column("On the head"),
        Column("Kind"),
        Column("Filled"),
        figure_column("Book", unit="LPA"),
        Column("Seen"),
        Column("Lost, est L"),
        Column("What was done"),
    )
    rows = [
        (
            one.tier or "not recorded",
            one.vessel.code,
            head_of(one),
            one.kind,
            figures.day(one.filled_at, year=True) if one.filled_at and held.get(one.pk) else "empty",
            figures.lpa(held.get(one.pk, 0)),
            ROOM,
            ROOM,
            ROOM,
        )
        for one in casks
    ]
    return FigureTable(columns, rows, none="No cask.")
