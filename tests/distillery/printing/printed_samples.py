"""Records of the invented site Harrowmere for the tests of printing, and ways of reading a PDF back."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from io import BytesIO

from pypdf import PdfReader

from distillery import figures
from distillery.printing.balance import BalanceRow
from distillery.printing.blocks import Block, Item, Note
from distillery.printing.document import Part, print_document
from distillery.printing.documents.blank_sheet import BlankColumn, BlankSheet
from distillery.printing.documents.month_account import (
    Amount,
    FindingLine,
    MonthAccountSheet,
    RemovalLine,
    VesselLine,
)
from distillery.printing.documents.record_sheet import Correction, LinkLine, RecordSection, RecordSheet
from distillery.printing.drawn.curve import Cut, Reading, RunCurve
from distillery.printing.furniture import Furniture, Impression, Site
from distillery.printing.tabled.cells import Struck
from distillery.printing.tabled.columns import Column, figure_column
from distillery.printing.tabled.tables import FigureTable

LITRE = 1_000_000
SITE = Site("Harrowmere Distillery", "Harrowmere, by the lower weir", "HM-0001")
IMPRESSION = Impression(datetime(2026, 11, 25, 14, 2, tzinfo=UTC), "Ines Marlow", copy=1)
DIGEST = "9f3c71d044abe802" + "0" * 48


def pages_of(pdf: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(BytesIO(pdf)).pages]


def lines_of(pdf: bytes) -> list[str]:
    return [line.strip() for page in pages_of(pdf) for line in page.splitlines()]


def printed(*blocks: Block, landscape: bool = False, **frame: object) -> bytes:
    furniture = replace(Furniture(SITE, "Trial sheet", "TS-2026-0001", 1, IMPRESSION, DIGEST), **frame)
    return print_document([Part(furniture, blocks, landscape)])


def at(hour: int, minute: int = 0, day: int = 24) -> datetime:
    return datetime(2026, 11, day, hour, minute, tzinfo=UTC)


def run_sheet(readings: int = 24) -> RecordSheet:
    start = at(23, 5)
    moments = [start + timedelta(minutes=15 * number) for number in range(readings)]
    strengths = [max(0.5, 74.2 - 0.012 * number**2 * (1 + number / 40)) for number in range(readings)]
    table = FigureTable(
        (
            Column("Happened"),
            Column("Written"),
            figure_column("Strength", unit="% vol at 20 °C"),
            figure_column("Liquid", unit="°C", missing="Not taken"),
            figure_column("Flow", unit="L a minute"),
            Column("Read by"),
            Column("Note"),
        ),
        tuple(
            (
                figures.clock(moment),
                figures.clock(moment + timedelta(minutes=2)),
                Struck("71.9", "70.9", "a") if number == 11 else figures.percent(strength),
                None if number == 12 else "16.1",
                "9.7",
                "IM" if number < 12 else "CR",
                "b" if number == 12 else "",
            )
            for number, (moment, strength) in enumerate(zip(moments, strengths, strict=True))
        ),
    )
    curve = RunCurve(
        tuple(
            Reading(moment, None if number == 12 else strength)
            for number, (moment, strength) in enumerate(zip(moments, strengths, strict=True))
        ),
        (
            Cut("Foreshots to spirit", at(23, 20), 74.1, 74.0),
            Cut("Spirit to feints", at(3, 40, 25), 68.1, 67.5),
        ),
    )
    return RecordSheet(
        site=SITE,
        title="Still run sheet",
        number="SR-2026-0412",
        subtitle=("Spirit still, run 412. Charged Tue 24 Nov 2026 22:05, ended Wed 25 Nov 2026 05:20. Shift B.",),
        sections=(
            RecordSection(
                "Charge",
                (
                    Item("Low wines and feints", "5,200", "L"),
                    Item("Strength of the charge", "24.8", "% vol at 20 °C", "28.4", "c"),
                    Item("Pure alcohol", "1,289.60", "LPA"),
                    Item("Remnant in the receiver", "0.00", "LPA"),
                ),
            ),
            RecordSection(
                "Where the charge went",
                (
                    Item("Foreshots", "44.52", "LPA"),
                    Item("Spirit", "476.79", "LPA"),
                    Item("Feints", "767.52", "LPA"),
                    Item("Spent lees", "0.00", "LPA"),
                ),
            ),
        ),
        readings=table,
        curve=curve,
        balance=(BalanceRow("Spirit still", 0, 1_289_600_000, 1_288_830_000, 0, 770_000, 0),),
        made_from=(
            LinkLine("WR-2026-0811", "Wash run", 640_120_000, 0.496),
            LinkLine("SR-2026-0411", "Feints of the run before", 649_480_000, 0.504),
        ),
        went_into=(LinkLine("TR-2026-0090", "Transfer to the spirit vat", 476_790_000, 1.0),),
        corrections=(
            Correction("a", "Strength at 01:50", "71.9", "70.9", "Ines Marlow", at(1, 52, 25), "misread the meniscus"),
            Correction("c", "Strength of the charge", "28.4", "24.8", "Carl Rowe", at(22, 40), "figures turned round"),
        ),
        notes=(Note("b", "The thermometer was broken; replaced at 02:20."),),
        caution=(
            "Spirit vapour burns and the still is hot. The site's risk assessment, local codes and licensed practice "
            "come before anything printed here."
        ),
        landscape=True,
    )


def stage(name: str, opening: int, came: int, went: int, lost: int, difference: int) -> BalanceRow:
    closing = opening + came - went - lost - difference
    return BalanceRow(name, opening, came, went, lost, difference, closing)


STAGES = (
    stage("Wash", 812_292_900, 9_640_118_200, 9_512_004_331, 61_250_000, 22_310_118),
    stage("Low wines and feints", 1_420_771_004, 9_431_442_118, 9_290_118_773, 14_220_900, -3_300_417),
    stage("New spirit", 2_104_118_350, 4_802_117_009, 5_204_009_871, 0, 1_620_000),
    stage("Rectified and compounded spirit", 402_118_000, 376_785_800, 390_004_000, 2_118_000, 660_118),
    stage("Maturing in cask", 84_210_400_117, 4_204_118_002, 1_432_300_000, 151_400_000, 3_330_118),
    stage("Vatted and reduced", 990_118_404, 1_432_300_000, 1_210_117_000, 3_520_118, -1_110_000),
    stage("Bottled under bond", 3_300_114_000, 1_204_118_000, 940_000_000, 0, 0),
)


def total_of(rows: tuple[BalanceRow, ...]) -> BalanceRow:
    return BalanceRow(
        "Whole site",
        sum(row.opening_ul for row in rows),
        sum(row.in_ul for row in rows),
        sum(row.out_ul for row in rows),
        sum(row.known_losses_ul for row in rows),
        sum(row.difference_ul for row in rows),
        sum(row.closing_ul for row in rows),
    )


def month_sheet(vessels: int = 90) -> MonthAccountSheet:
    return MonthAccountSheet(
        site=SITE,
        number="MS-2026-11",
        first_day=date(2026, 11, 1),
        last_day=date(2026, 11, 30),
        stages=STAGES,
        total=total_of(STAGES),
        losses=(
            Amount("Evaporation in cask", 151_400_000),
            Amount("Pot ale", 61_250_000),
            Amount("Spent lees", 14_220_900),
            Amount("Bottling", 3_520_118),
            Amount("Spent third-still charge", 2_118_000),
        ),
        gains=(Amount("Gauging of Feints receiver 1", 3_300_417),),
        differences=(
            Amount("Wash run", 22_310_118),
            Amount("Spirit run", -3_300_417),
            Amount("Transfer", 1_620_000),
            Amount("Third still run", 660_118),
            Amount("Regauge", 3_330_118),
            Amount("Bottling", -1_110_000),
        ),
        removals=(
            RemovalLine("Home use", 704_000_000, 2_317_567),
            RemovalLine("Export", 201_000_000),
            RemovalLine("Under bond", 35_000_000),
        ),
        vessels=(
            VesselLine("Spirit receiver", 1_204.6, 70.33, 847_190_118),
            VesselLine("Low wines receiver", None, None, 1_118),
            *(
                VesselLine(f"Cask 2022/{number:04d}", 190.0 + number / 10, 61.5, (116_850 + number) * 1_000)
                for number in range(1, vessels + 1)
            ),
        ),
        findings=(
            FindingLine("loss enquiry", "SR-2026-0409", "spirit run", at(5, 20, 12), 22_310_118, "waits for an answer"),
            FindingLine("gauge again", "ST-2026-041", "stock take", None, None, "open"),
        ),
        late_entries=3,
        corrections=4,
        foots=True,
    )


def log_sheet(rows: int = 0, sheets: int = 3) -> BlankSheet:
    return BlankSheet(
        site=SITE,
        title="Still readings, blank log sheet",
        columns=(
            BlankColumn("Happened", "24 h clock", 18),
            BlankColumn("Strength shown", "% vol", 20),
            BlankColumn("Liquid", "°C", 16),
            BlankColumn("Flow", "L a minute", 18),
            BlankColumn("Read by", "initials", 18),
            BlankColumn("Note", "", 60),
        ),
        serials=tuple(f"BL-2026-{number:04d}" for number in range(41, 41 + sheets)),
        rows=rows,
        caution="Spirit vapour burns. The site's risk assessment, local codes and licensed practice come first.",
    )
