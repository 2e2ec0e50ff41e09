"""An enquiry on paper: what is apart, what was measured, what would explain it, what was done, how it ended.

Date, time, product, volume, strength and reason are printed for what was lost, with the two who agreed (GOV.UK,
Alcoholic products technical guide, section 14). Pure alcohol in whole microlitres at 20 °C; missing without a sign.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from distillery import figures
from distillery.printing.blocks import Block, Heading, Item, ItemList, Paragraph
from distillery.printing.digest import digest_of, digest_statement
from distillery.printing.document import Part, print_document
from distillery.printing.furniture import Furniture, Impression, Site
from distillery.printing.paper import BOLD
from distillery.printing.signing import Signatory, Signatures
from distillery.printing.tabled.cells import Cell
from distillery.printing.tabled.columns import Column, figure_column
from distillery.printing.tabled.tables import FigureTable

TITLE = "Loss enquiry"
LAW_DECIDES = (
    "No cause was found. Whether duty is due on alcohol that cannot be accounted for, the law and the officer decide."
)
MICRO = 1_000_000


@dataclass(frozen=True, slots=True)
class MeasuredLine:
    """One gauge at 20 °C: bulk, alcohol and two standard uncertainties in microlitres, strength in % vol."""

    at: datetime
    vessel: str
    gauge: str
    litres20_ul: int
    percent20: float
    pure_ul: int
    two_u_ul: int


@dataclass(frozen=True, slots=True)
class CauseLine:
    """A reading that would explain it, as written and as it would have to be."""

    cause: str
    record: str
    reading: str
    written: str
    would_be: str


@dataclass(frozen=True, slots=True)
class DoneLine:
    """One thing done about it."""

    at: datetime
    what: str
    words: str
    by: str


@dataclass(frozen=True, slots=True)
class Answer:
    """How it ends, agreed or still proposed; volume follows from alcohol and strength.

    `set_off` names the enquiry it is set off against and what is open there; blank for any other ending.
    """

    ending: str
    agreed: bool
    cause: str
    checked: str
    reason: str
    lost_at: datetime | None
    product: str
    pure_ul: int
    percent: float | None
    movement: int | None
    first: str
    second: str
    decides: bool
    set_off: str = ""


@dataclass(frozen=True, slots=True)
class DifferenceLines:
    """What is missing or over in the books, and what it is judged by; microlitres of pure alcohol.

    Blank or nothing is what it is not judged by.
    """

    difference_ul: int
    explained_ul: int
    threshold_ul: int
    uncertainty_ul: int
    basis: str
    judged_against: str = ""
    charge_ul: int = 0


@dataclass(frozen=True, slots=True)
class FigureLine:
    """One figure that is no alcohol, as its page writes it: what it is called, the figure, its unit."""

    name: str
    figure: str
    unit: str


@dataclass(frozen=True, slots=True)
class EnquirySheet:
    """One enquiry as it stands when it is printed.

    About a strength or a figure unlike its kind it has that figure beside what is usual, and no difference: the alcohol
    of its record is none of it.
    """

    site: Site
    number: str
    state: str
    record: str
    operation: str
    happened_at: datetime
    opened_at: datetime
    opened_by: str
    said: str
    beside_usual: tuple[FigureLine, ...]
    difference: DifferenceLines | None
    measured: tuple[MeasuredLine, ...]
    causes: tuple[CauseLine, ...]
    not_seen: str
    answer: Answer | None
    done: tuple[DoneLine, ...]
    version: int = 1


def enquiry_pdf(sheet: EnquirySheet, impression: Impression, *, unanswered: bool = False) -> bytes:
    """The printed enquiry, landscape; `unanswered` while somebody still has to answer it."""
    return print_document([enquiry_part(sheet, impression, unanswered=unanswered)])


def enquiry_part(sheet: EnquirySheet, impression: Impression, *, unanswered: bool = False) -> Part:
    """The enquiry as a part of a document."""
    digest = digest_of(sheet)
    blocks: list[Block] = [
        *_about(sheet),
        *_answer(sheet.answer, sheet.state, unanswered=unanswered),
        *_measured(sheet),
        *_causes(sheet),
        *_done(sheet),
        digest_statement(digest),
        Signatures(_signatories(sheet.answer)),
    ]
    furniture = Furniture(sheet.site, TITLE, sheet.number, sheet.version, impression, digest)
    return Part(furniture, blocks, landscape=True, data=sheet)


def _about(sheet: EnquirySheet) -> list[Block]:
    items = [
        Item("State", sheet.state),
        Item("Record", sheet.record),
        Item("Operation", sheet.operation),
        Item("Happened", figures.moment(sheet.happened_at, year=True)),
        Item("Opened", figures.moment(sheet.opened_at, year=True)),
        Item("Opened by", sheet.opened_by),
    ]
    items += [Item(one.name, one.figure, one.unit) for one in sheet.beside_usual]
    apart = sheet.difference
    if apart is not None:
        items += _difference(apart)
    blocks: list[Block] = [Heading("What it is about"), ItemList(tuple(items)), Paragraph(sheet.said, BOLD)]
    if apart is not None and apart.basis:
        said = f"Basis of the review threshold, which is never an allowance: {apart.basis}"
        blocks.append(Paragraph(said, small=True))
    return blocks


def _difference(apart: DifferenceLines) -> list[Item]:
    items = []
    if apart.judged_against:
        against = f"{apart.judged_against[:1].upper()}{apart.judged_against[1:]}"
        items.append(Item(against, figures.lpa(apart.charge_ul), "LPA"))
    items += [
        Item("Difference in the books", figures.difference(apart.difference_ul, 4), "LPA"),
        Item("Explained", figures.difference(apart.explained_ul, 4), "LPA"),
    ]
    if apart.threshold_ul:
        items.append(Item("Review threshold", figures.lpa(apart.threshold_ul), "LPA"))
    if apart.uncertainty_ul:
        items.append(Item("Two standard uncertainties", figures.lpa(2 * apart.uncertainty_ul), "LPA"))
    return items


def _answer(answer: Answer | None, state: str, *, unanswered: bool) -> list[Block]:
    if answer is None:
        ended = "It has not ended." if unanswered else f"It needs no answer any more: {state}."
        return [Heading("How it ended"), Paragraph(ended)]
    items = [Item("Ending" if answer.agreed else "Ending proposed", answer.ending)]
    if answer.cause:
        items.append(Item("Cause", answer.cause))
    if answer.percent and answer.lost_at is not None:
        litres = abs(answer.pure_ul) / MICRO * 100 / answer.percent
        items += [
            Item("Lost at", figures.moment(answer.lost_at, year=True)),
            Item("Product", answer.product),
            Item("Volume at 20 °C", figures.litres(litres, 2), "L"),
            Item("Strength at 20 °C", figures.percent(answer.percent), "% vol"),
            Item("Pure alcohol", figures.lpa(answer.pure_ul, 4), "LPA"),
        ]
    if answer.set_off:
        # Both amounts stand apart; nothing is posted between them.
        items.append(Item("Set off against", answer.set_off))
    if answer.movement is not None:
        items.append(Item("Posted as movement", str(answer.movement)))
    blocks: list[Block] = [
        Heading("How it ended" if answer.agreed else "Waits for a second person"),
        ItemList(tuple(items)),
        Paragraph(f"Checked: {answer.checked}"),
        Paragraph(f"Reason: {answer.reason}"),
    ]
    if answer.decides:
        blocks.append(Paragraph(LAW_DECIDES, BOLD))
    return blocks


def _measured(sheet: EnquirySheet) -> list[Block]:
    columns = (
        Column("Taken"),
        Column("Vessel"),
        Column("Gauge"),
        figure_column("Liquid", figures.litres_from_ul, unit="L at 20 °C"),
        figure_column("Strength", unit="% vol"),
        figure_column("Alcohol", figures.lpa, unit="LPA"),
        figure_column("± two standard uncertainties", figures.lpa, unit="LPA"),
    )
    rows: list[tuple[Cell, ...]] = [
        (
            figures.moment(line.at, year=True),
            line.vessel,
            line.gauge,
            line.litres20_ul,
            figures.percent(line.percent20, 2),
            line.pure_ul,
            line.two_u_ul,
        )
        for line in sheet.measured
    ]
    return [Heading("What was measured"), FigureTable(columns, rows, none="Nothing was gauged in this operation.")]


def _causes(sheet: EnquirySheet) -> list[Block]:
    columns = (
        Column("What would explain it"),
        Column("Record"),
        Column("Reading"),
        figure_column("Written"),
        figure_column("Would be"),
    )
    rows: list[tuple[Cell, ...]] = [
        (line.cause, line.record, line.reading, line.written, line.would_be) for line in sheet.causes
    ]
    none = "No single reading would explain it as the figures stand now."
    blocks: list[Block] = [Heading("What would explain it"), FigureTable(columns, rows, none=none)]
    return [*blocks, Paragraph(sheet.not_seen)] if sheet.not_seen else blocks


def _done(sheet: EnquirySheet) -> list[Block]:
    columns = (Column("When"), Column("What"), Column("In words", width_mm=140), Column("By"))
    rows: list[tuple[Cell, ...]] = [
        (figures.moment(line.at, year=True), line.what, line.words, line.by) for line in sheet.done
    ]
    return [Heading("What was done"), FigureTable(columns, rows, none="Nothing was done yet.")]


def _signatories(answer: Answer | None) -> tuple[Signatory, ...]:
    first = answer.first if answer else ""
    second = answer.second if answer else ""
    return (Signatory("Enquired into by", first), Signatory("Second person", second), Signatory("Manager"))
