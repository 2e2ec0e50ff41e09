"""The monthly stock account on paper: each stage's balance line, losses by cause, gains, differences, removals
with duty, what is still open, and what every vessel held at the end.

The account kept for a stock period is asked for by the Excise Warehousing (Etc.) Regulations 1988 (SI 1988/809),
regulation 20; the order of this sheet is our own. Alcohol is whole microlitres at 20 °C, duty whole pence. The sheet
prints what the ledger worked out and adds up only the lines it shows; one that says it foots and does not is refused.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from distillery import figures
from distillery.printing.balance import BalanceRow, balance_table
from distillery.printing.blocks import Block, Heading, Item, ItemList, Paragraph
from distillery.printing.digest import digest_of, digest_statement
from distillery.printing.document import Part, print_document
from distillery.printing.documents.month_beside import (
    KnownRow,
    TakeRow,
    YieldRow,
    earlier_block,
    known_block,
    places_block,
    takes_block,
    yields_block,
)
from distillery.printing.documents.month_crossed import CARRIED, SINCE_CLOSED, CrossingLine, crossed_block
from distillery.printing.furniture import Furniture, Impression, Site
from distillery.printing.paper import BOLD
from distillery.printing.signing import PREPARED_CHECKED_MANAGER, Signatory, Signatures
from distillery.printing.tabled.cells import Cell, Figure
from distillery.printing.tabled.columns import Column, figure_column
from distillery.printing.tabled.tables import FigureTable, summed

TITLE = "Monthly stock account"
NO_FIGURE = "none"
NOT_KNOWN = "not known"


class AccountDoesNotAgreeError(ValueError):
    """The sheet says that the account foots and its own figures say otherwise."""


@dataclass(frozen=True, slots=True)
class Amount:
    """Pure alcohol under a name: a cause of loss, a gain, the differences of one operation."""

    name: str
    pure_ul: int


@dataclass(frozen=True, slots=True)
class RemovalLine:
    """What left the site in one way, and the duty on it; None where none is due on that kind, or where a part of it is
    not known: `not_known` then says which, and what to enter.
    """

    kind: str
    pure_ul: int
    duty_pence: int | None = None
    not_known: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class VesselLine:
    """What one vessel held at the end: litres and % vol at 20 °C, None where its book is no mixture by itself.

    `held` says what was at work in it ('FE0001 ferments') where its alcohol was not declared; the litres then went in.
    """

    name: str
    litres20: float | None
    percent20: float | None
    pure_ul: int
    held: str = ""


@dataclass(frozen=True, slots=True)
class FindingLine:
    """A question still open at the end of the period."""

    kind: str
    record: str
    operation: str
    at: datetime | None
    difference_ul: int | None
    state: str


@dataclass(frozen=True, slots=True)
class MonthAccountSheet:
    """One period of account, both days included. `total` is the site's own line over all stages.

    `places` are lines by place, `known` how each stands, `earlier` the site's line of this period and those before
    it. `carried` is what the figures bear for closed periods. `since_closed` was written about this period after it was
    closed: none of the figures, and no part of the digest, so that a print made at the closing still agrees.
    """

    site: Site
    number: str
    first_day: date
    last_day: date
    stages: tuple[BalanceRow, ...]
    total: BalanceRow
    losses: tuple[Amount, ...]
    gains: tuple[Amount, ...]
    differences: tuple[Amount, ...]
    removals: tuple[RemovalLine, ...]
    vessels: tuple[VesselLine, ...]
    findings: tuple[FindingLine, ...]
    late_entries: int
    corrections: int
    foots: bool
    version: int = 1
    signatories: tuple[Signatory, ...] = PREPARED_CHECKED_MANAGER
    remarks: tuple[str, ...] = ()
    carried: tuple[CrossingLine, ...] = ()
    since_closed: tuple[CrossingLine, ...] = ()
    places: tuple[BalanceRow, ...] = ()
    known: tuple[KnownRow, ...] = ()
    takes: tuple[TakeRow, ...] = ()
    yields: tuple[YieldRow, ...] = ()
    earlier: tuple[BalanceRow, ...] = ()


def account_digest(sheet: MonthAccountSheet) -> str:
    """The digest of an account: over all its figures. Findings, how many entries were late or put right, what was
    written about it since it was closed, what records as they stand now say of its malt, and when what was not gauged
    in it had been gauged before stand under it as of the print.
    """
    return digest_of(_digested(sheet))


def _digested(sheet: MonthAccountSheet) -> MonthAccountSheet:
    known = tuple(replace(one, gauged_at=None) for one in sheet.known)
    return replace(sheet, since_closed=(), yields=(), known=known, findings=(), late_entries=0, corrections=0)


def does_not_agree(sheet: MonthAccountSheet) -> tuple[str, ...]:
    """A sentence for each place where the figures of the stages and their total do not agree; none if all do."""
    faults = [_fault_of_line(row) for row in (*sheet.stages, sheet.total) if not row.foots]
    whole = (
        ("Opening", [row.opening_ul for row in sheet.stages], sheet.total.opening_ul),
        ("In less out", [row.in_ul - row.out_ul for row in sheet.stages], sheet.total.in_ul - sheet.total.out_ul),
        ("Known losses", [row.known_losses_ul for row in sheet.stages], sheet.total.known_losses_ul),
        ("Difference", [row.difference_ul for row in sheet.stages], sheet.total.difference_ul),
        ("Closing", [row.closing_ul for row in sheet.stages], sheet.total.closing_ul),
    )
    for name, parts, total in whole:
        if sum(parts) != total:
            faults.append(
                f"{name}: the stages make {figures.lpa(sum(parts), 6)} LPA and the total line says "
                f"{figures.lpa(total, 6)} LPA."
            )
    return tuple(faults)


def _fault_of_line(row: BalanceRow) -> str:
    return f"{row.name}: {figures.lpa(row.unaccounted_ul, 6)} LPA keep the line from footing."


def month_account_pdf(sheet: MonthAccountSheet, impression: Impression) -> bytes:
    """The printed account. Raises AccountDoesNotAgreeError where it claims to foot and does not."""
    return print_document([month_account_part(sheet, impression)])


def month_account_part(sheet: MonthAccountSheet, impression: Impression) -> Part:
    """The account as a part of a document. Raises AccountDoesNotAgreeError where it claims to foot and does not."""
    faults = does_not_agree(sheet)
    if sheet.foots and faults:
        raise AccountDoesNotAgreeError(
            f"The account {sheet.number} is given as footing, but: {' '.join(faults)} It is not printed as footing."
        )
    digest = account_digest(sheet)
    furniture = Furniture(sheet.site, TITLE, sheet.number, sheet.version, impression, digest)
    blocks: list[Block] = [
        *_summary(sheet),
        *_site_and_stages(sheet, faults),
        *places_block(sheet.places, sheet.total),
        *known_block(sheet.known),
        *takes_block(sheet.takes),
        *_amounts("Known losses by cause", "Cause", sheet.losses, "No known losses in the period."),
        *_amounts("Gains", "Where", sheet.gains, "No gains in the period."),
        *_amounts(
            "Differences by operation",
            "Operation",
            sheet.differences,
            "No differences in the period.",
            written=figures.difference,
        ),
        Paragraph(figures.SIGN_OF_DIFFERENCE, small=True),
        *yields_block(sheet.yields),
        *_removals(sheet),
        *crossed_block("Carried over a close", sheet.carried, "Of", CARRIED),
        *_findings(sheet),
        *_vessels(sheet),
        *earlier_block(sheet.earlier),
        *crossed_block("Written since the close", sheet.since_closed, "Carried in", SINCE_CLOSED),
        digest_statement(digest),
        Signatures(sheet.signatories),
    ]
    return Part(furniture, blocks, data=_digested(sheet))


def _summary(sheet: MonthAccountSheet) -> list[Block]:
    first, last = sheet.first_day, sheet.last_day
    whole_month = first.day == 1 and (first + timedelta(days=31)).replace(day=1) - timedelta(days=1) == last
    days = f"{figures.day(first, year=True)} to {figures.day(last, year=True)}"
    items = (
        Item("Period", figures.month(first) if whole_month else days),
        Item("Footing", "Foots" if sheet.foots else "Does not foot"),
        Item("Open findings", figures.count(len(sheet.findings))),
        Item("Entries written late", figures.count(sheet.late_entries)),
        Item("Entries corrected", figures.count(sheet.corrections)),
    )
    return [ItemList(items), *(Paragraph(remark) for remark in sheet.remarks)]


def _site_and_stages(sheet: MonthAccountSheet, faults: Sequence[str]) -> list[Block]:
    blocks: list[Block] = [
        Heading("Site and stages"),
        balance_table(sheet.stages, sheet.total, first="Stage", closing="Closing"),
    ]
    if sheet.foots:
        blocks.append(
            Paragraph(
                "This account foots: in every line opening and in, less out, known losses and difference, is the "
                "closing figure, to the microlitre; and the stages add up to the total.",
                BOLD,
            )
        )
    else:
        named = list(faults) or ["The check of the ledger gives it as not footing; ask for that check before signing."]
        blocks.append(Paragraph("This account does not foot. Do not sign it before the cause is found.", BOLD))
        blocks += [Paragraph(sentence) for sentence in named]
    return [*blocks, Paragraph(figures.ROUNDING, small=True)]


def _amounts(
    heading: str, first: str, amounts: Sequence[Amount], none: str, *, written: Figure = figures.lpa
) -> list[Block]:
    columns = (Column(first, width_mm=82), Column("Pure alcohol", "LPA", "right", 34, written, carried=True))
    rows: list[tuple[Cell, ...]] = [(amount.name, amount.pure_ul) for amount in amounts]
    return [Heading(heading), FigureTable(columns, rows, summed("Total", columns, rows) if rows else None, none=none)]


def _lpa_column(width_mm: float | None = None) -> Column:
    return Column("Pure alcohol", "LPA", "right", width_mm, figures.lpa, carried=True)


def _removals(sheet: MonthAccountSheet) -> list[Block]:
    # Duty is a sum of money that not every kind bears, so it is added up here and not carried.
    columns = (
        Column("Kind", width_mm=82),
        _lpa_column(30),
        Column("Duty", "£", "right", 34, figures.pounds, missing=NO_FIGURE),
    )
    rows: list[tuple[Cell, ...]] = [
        (line.kind, line.pure_ul, NOT_KNOWN if line.not_known else line.duty_pence) for line in sheet.removals
    ]
    unknown = [sentence for line in sheet.removals for sentence in line.not_known]
    duty: Cell = NOT_KNOWN if unknown else sum(line.duty_pence or 0 for line in sheet.removals)
    total = ("Total", sum(line.pure_ul for line in sheet.removals), duty) if rows else None
    late = [
        Paragraph(
            f"{kind}: of it late, truly {figures.moment(one.truly_at, year=True)}, {one.record}: "
            f"{figures.lpa(pure_ul, 4)} LPA, duty {NOT_KNOWN if pence is None else f'£{figures.pounds(pence)}'}.",
            small=True,
        )
        for one in sheet.carried
        for kind, pure_ul, pence in one.removals
    ]
    return [
        Heading("Removals and duty"),
        FigureTable(columns, rows, total=total, none="Nothing was removed in the period."),
        *(Paragraph(f"{NOT_KNOWN.capitalize()}: {sentence}", small=True) for sentence in unknown),
        *late,
    ]


def _findings(sheet: MonthAccountSheet) -> list[Block]:
    columns = (
        Column("Kind"),
        Column("Record"),
        Column("Operation"),
        Column("When", missing=NO_FIGURE),
        figure_column("Difference", figures.difference, unit="LPA", missing=NO_FIGURE),
        Column("State"),
    )
    rows: list[tuple[Cell, ...]] = [
        (
            line.kind,
            line.record,
            line.operation,
            figures.moment(line.at, year=True) if line.at else None,
            line.difference_ul,
            line.state,
        )
        for line in sheet.findings
    ]
    return [Heading("Findings still open"), FigureTable(columns, rows, none="No finding is open.")]


def _vessels(sheet: MonthAccountSheet) -> list[Block]:
    columns = (
        Column("Vessel", width_mm=74),
        Column("Liquid", "litres at 20 °C", "right", 34, missing=NO_FIGURE),
        Column("Strength", "% vol at 20 °C", "right", 34, missing=NO_FIGURE),
        _lpa_column(36),
    )
    rows: list[tuple[Cell, ...]] = [
        (
            line.name,
            None if line.litres20 is None else figures.litres(line.litres20),
            line.held or (None if line.percent20 is None else figures.percent(line.percent20, 2)),
            line.pure_ul,
        )
        for line in sheet.vessels
    ]
    total = summed("All vessels", columns, rows) if rows else None
    return [
        Heading("What each vessel held at the end"),
        FigureTable(columns, rows, total=total, none="No vessel held alcohol at the end of the period."),
    ]
