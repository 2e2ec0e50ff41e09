"""Casks against their expected band on paper, those furthest below it first. Litres of pure alcohol at 20 °C.

The band is the site's own, dated, and no allowance: it says from where on a leak is looked for.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from distillery import figures
from distillery.printing.blocks import Block, Item, ItemList, Paragraph
from distillery.printing.digest import digest_of, digest_statement
from distillery.printing.document import Part, print_document
from distillery.printing.furniture import Furniture, Impression, Site
from distillery.printing.signing import PREPARED_CHECKED_MANAGER, Signatures
from distillery.printing.tabled.cells import Cell
from distillery.printing.tabled.columns import Column, figure_column
from distillery.printing.tabled.tables import FigureTable

TITLE = "Casks and their bands"


@dataclass(frozen=True, slots=True)
class CaskLine:
    """One cask at its last gauge; rates in percent a year, None where there is too little to say."""

    cask: str
    kind: str
    warehouse: str
    years: float
    filled_lpa: float
    low_lpa: float | None
    high_lpa: float | None
    measured_lpa: float
    two_u_lpa: float
    rate_percent: float | None
    median_percent: float | None
    gauged_at: datetime
    says: str


@dataclass(frozen=True, slots=True)
class CaskWatchSheet:
    """The casks of one warehouse ('' for all), as they stand on a day."""

    site: Site
    on: date
    warehouse: str
    casks: tuple[CaskLine, ...]
    version: int = 1


def cask_watch_pdf(sheet: CaskWatchSheet, impression: Impression) -> bytes:
    """The printed list, landscape."""
    digest = digest_of(sheet)
    columns = (
        Column("Cask"),
        Column("Kind"),
        Column("Warehouse"),
        figure_column("Age", unit="years"),
        figure_column("Filled with"),
        figure_column("Expected", missing="none set"),
        figure_column("Measured"),
        figure_column("± two standard uncertainties"),
        figure_column("Lost a year", unit="%", missing="too soon"),
        figure_column("Warehouse's median", unit="% a year", missing="too few"),
        Column("Gauged"),
        Column("Says"),
    )
    rows: list[tuple[Cell, ...]] = [
        (
            one.cask,
            one.kind,
            one.warehouse,
            figures.number(one.years, 1),
            figures.number(one.filled_lpa, 1),
            _band(one),
            figures.number(one.measured_lpa, 1),
            figures.number(one.two_u_lpa, 1),
            None if one.rate_percent is None else figures.number(one.rate_percent, 1),
            None if one.median_percent is None else figures.number(one.median_percent, 1),
            figures.day(one.gauged_at, year=True),
            one.says,
        )
        for one in sheet.casks
    ]
    blocks: list[Block] = [
        ItemList(
            (
                Item("Warehouse", sheet.warehouse or "all"),
                Item("On", figures.day(sheet.on, year=True)),
                Item("Casks gauged since filling", figures.count(len(sheet.casks))),
                Item("Outside their band", figures.count(sum("its band" in one.says for one in sheet.casks))),
            )
        ),
        FigureTable(columns, rows, none="No cask has been gauged since it was filled."),
        Paragraph("A band says from where on a leak is looked for. It is never an allowance.", small=True),
        digest_statement(digest),
        Signatures(PREPARED_CHECKED_MANAGER),
    ]
    furniture = Furniture(sheet.site, TITLE, f"CB-{sheet.on:%Y-%m-%d}", sheet.version, impression, digest)
    return print_document([Part(furniture, blocks, landscape=True)])


def _band(one: CaskLine) -> str | None:
    if one.low_lpa is None or one.high_lpa is None:
        return None
    return f"{figures.number(one.low_lpa, 1)} to {figures.number(one.high_lpa, 1)}"
