"""The loss register of a month on paper: totals by cause and stage, each loss, gains apart, differences, what is open.

Date, time, product, volume, strength and reason of each loss, with the persons (GOV.UK, Alcoholic products technical
guide, section 14). Losses and gains are printed in lists of their own and not set off. Whole microlitres at 20 °C.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from distillery import figures
from distillery.printing.blocks import Block, Heading, Item, ItemList, Paragraph
from distillery.printing.digest import digest_of, digest_statement
from distillery.printing.document import Part, print_document
from distillery.printing.furniture import Furniture, Impression, Site
from distillery.printing.paper import BOLD
from distillery.printing.signing import PREPARED_CHECKED_MANAGER, Signatures
from distillery.printing.tabled.cells import Cell
from distillery.printing.tabled.columns import Column, figure_column
from distillery.printing.tabled.tables import FigureTable, summed

TITLE = "Loss register"
NOT_STATED = "not stated"


@dataclass(frozen=True, slots=True)
class Sum:
    """Lost and booked back under one name."""

    name: str
    lost_ul: int
    back_ul: int


@dataclass(frozen=True, slots=True)
class LossLine:
    """One loss, or with a minus one entry that lessens a loss."""

    at: datetime
    record: str
    operation: str
    cause: str
    product: str
    litres20: float | None
    percent20: float | None
    pure_ul: int
    reason: str
    persons: str


@dataclass(frozen=True, slots=True)
class DifferenceLine:
    """One difference with its enquiry and how that stands."""

    at: datetime
    record: str
    operation: str
    product: str
    left_ul: int
    explained_ul: int
    enquiry: str
    state: str


@dataclass(frozen=True, slots=True)
class LossRegisterSheet:
    """One month. `within` are the differences that no enquiry is about."""

    site: Site
    number: str
    month: date
    causes: tuple[Sum, ...]
    stages: tuple[Sum, ...]
    losses: tuple[LossLine, ...]
    gains: tuple[LossLine, ...]
    differences: tuple[DifferenceLine, ...]
    within_count: int
    within_missing_ul: int
    within_extra_ul: int
    difference_ul: int
    undecided: tuple[str, ...]
    version: int = 1


def loss_register_pdf(sheet: LossRegisterSheet, impression: Impression) -> bytes:
    """The printed register, landscape."""
    return print_document([loss_register_part(sheet, impression)])


def loss_register_part(sheet: LossRegisterSheet, impression: Impression) -> Part:
    """The register as a part of a document."""
    digest = digest_of(sheet)
    blocks: list[Block] = [
        ItemList((Item("Month", figures.month(sheet.month)), Item("Entries", figures.count(len(sheet.losses))))),
        *_sums("Totals by cause", "Cause", sheet.causes),
        *_sums("Totals by stage", "Stage", sheet.stages),
        *_lines("Known losses", sheet.losses, "No known losses in the month."),
        *_lines("Gains: losses booked back", sheet.gains, "Nothing was booked back in the month."),
        *_differences(sheet),
        Paragraph(figures.ROUNDING, small=True),
        digest_statement(digest),
        Signatures(PREPARED_CHECKED_MANAGER),
    ]
    furniture = Furniture(sheet.site, TITLE, sheet.number, sheet.version, impression, digest)
    return Part(furniture, blocks, landscape=True, data=sheet)


def _alcohol(label: str) -> Column:
    return Column(label, "LPA", "right", None, figures.lpa, carried=True)


def _sums(heading: str, first: str, sums: Sequence[Sum]) -> list[Block]:
    columns = (Column(first), _alcohol("Lost"), _alcohol("Booked back"))
    rows: list[tuple[Cell, ...]] = [(one.name, one.lost_ul, one.back_ul) for one in sums]
    total = summed("Total", columns, rows) if rows else None
    return [Heading(heading), FigureTable(columns, rows, total=total, none="No known losses in the month.")]


def _lines(heading: str, lines: Sequence[LossLine], none: str) -> list[Block]:
    columns = (
        Column("Lost at"),
        Column("Record"),
        Column("Cause"),
        Column("Product"),
        figure_column("Volume", unit="L at 20 °C", missing=NOT_STATED),
        figure_column("Strength", unit="% vol", missing=NOT_STATED),
        _alcohol("Alcohol"),
        Column("Reason"),
        Column("Persons"),
    )
    rows: list[tuple[Cell, ...]] = [
        (
            figures.moment(line.at, year=True),
            line.record,
            line.cause,
            line.product,
            None if line.litres20 is None else figures.litres(line.litres20),
            None if line.percent20 is None else figures.percent(line.percent20, 2),
            line.pure_ul,
            line.reason,
            line.persons,
        )
        for line in lines
    ]
    total = summed("Total", columns, rows) if rows else None
    return [Heading(heading), FigureTable(columns, rows, total=total, none=none)]


def _differences(sheet: LossRegisterSheet) -> list[Block]:
    columns = (
        Column("Happened"),
        Column("Record"),
        Column("Operation"),
        Column("Product"),
        figure_column("Difference", figures.difference, unit="LPA"),
        figure_column("Explained", figures.difference, unit="LPA"),
        Column("Enquiry"),
        Column("State"),
    )
    rows: list[tuple[Cell, ...]] = [
        (
            figures.moment(one.at, year=True),
            one.record,
            one.operation,
            one.product,
            one.left_ul,
            one.explained_ul,
            one.enquiry,
            one.state,
        )
        for one in sheet.differences
    ]
    blocks: list[Block] = [
        Heading("Differences and their enquiries"),
        FigureTable(columns, rows, none="No difference has an enquiry in the month."),
        Paragraph(
            f"Besides, {figures.count(sheet.within_count)} differences that no enquiry is about: "
            f"{figures.lpa(sheet.within_missing_ul)} LPA missing and {figures.lpa(-sheet.within_extra_ul)} LPA over. "
            f"All that is not explained, as the month's account has it: {figures.difference(sheet.difference_ul)}, LPA."
        ),
    ]
    if sheet.undecided:
        said = f"Cause not found in {', '.join(sheet.undecided)}: whether duty is due, the law and the officer decide."
        blocks.append(Paragraph(said, BOLD))
    return blocks
