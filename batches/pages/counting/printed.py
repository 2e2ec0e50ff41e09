"""Stock takes on paper: blank counting sheets in walking order without any book, and the result with both names."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from itertools import groupby
from typing import Final

from batches.counting import ending, standing, walking
from batches.counting.models import Count, Ending, StockTake
from batches.pages.places.cask_table import head_of
from batches.sheets.cautions import CASKS, VAPOUR
from batches.sheets.sheet import STANDING_CAUTION
from distillery import figures
from distillery.plant.models import Cask, Kind
from distillery.printing.blocks import Block, Heading, Item, ItemList, Paragraph
from distillery.printing.digest import digest_statement
from distillery.printing.document import Part, print_document
from distillery.printing.furniture import Furniture
from distillery.printing.house import impression, site
from distillery.printing.signing import CORRECTION_RULE, Signatory, Signatures
from distillery.printing.tabled.columns import Column, figure_column
from distillery.printing.tabled.tables import FigureTable
from distillery.signed import digest_of

SHEET_TITLE: Final = "Counting sheet"
RESULT_TITLE: Final = "Stock take"
ROOM: Final = "_" * 10
# Beyond this a warehouse is counted row by row.
MOST_ON_A_SHEET: Final = 1_000
# Differences and things measured that a result names one by one; the list on the page has them all.
MOST_TOLD: Final = 400


def counting_sheets_pdf(take: StockTake, place: str, *, printed_at: datetime, printed_by: str) -> bytes:
    """The PDF, landscape: every place of the plan, or one of them; no book stands on it."""
    blocks: list[Block] = [
        ItemList(
            (
                Item("Stock take", f"{take.number} of {figures.day(take.day, year=True)}"),
                Item("Place", place or "all"),
                Item("Counted by", ROOM * 2),
                Item("Day and time", ROOM * 2),
            )
        ),
        Paragraph(f"{CASKS.sentence} {VAPOUR.sentence} {STANDING_CAUTION}", small=True),
        Paragraph(CORRECTION_RULE, small=True),
    ]
    for one in standing.so_far(take):
        if place in ("", one.name):
            blocks += _sheet_of(take, one)
    furniture = Furniture(site(), SHEET_TITLE, take.number, 0, impression(printed_at, printed_by))
    return print_document([Part(furniture, blocks, landscape=True)])


def _sheet_of(take: StockTake, place: standing.PlaceSoFar) -> list[Block]:
    if place.warehouse:
        return _casks(take, place)
    if place.name == standing.VESSELS:
        columns = (
            *(Column(head) for head in ("Vessel", "Name", "Counted at")),
            Column("Dip", "mm"),
            Column("Temperature", "°C"),
            Column("Hydrometer", "% vol"),
            Column("Gravity of wash"),
            Column("Initials"),
        )
        rows = [
            (
                one.vessel.code,
                one.vessel.name,
                ROOM,
                ROOM,
                ROOM,
                "-" if one.vessel.kind == Kind.WASHBACK else ROOM,
                ROOM if one.vessel.kind == Kind.WASHBACK else "-",
                ROOM,
            )
            for one in walking.vessels_of(take)
        ]
        return [Heading("Vessels"), FigureTable(columns, rows, none="No vessel.")]
    columns = tuple(Column(head) for head in ("Stock", "Lot", "Counted at", "Bottles found", "Initials"))
    lots = [(one.stock.name, one.lot or "not known", ROOM, ROOM, ROOM) for one in walking.lots_of(take)]
    return [Heading("Bottled stock"), FigureTable(columns, lots, none="No bottles.")]


def _casks(take: StockTake, place: standing.PlaceSoFar) -> list[Block]:
    casks = list(walking.casks_of(take, place.warehouse)[: MOST_ON_A_SHEET + 1])
    shown = casks[:MOST_ON_A_SHEET]
    blocks: list[Block] = [Heading(place.name)]
    if len(casks) > MOST_ON_A_SHEET:
        blocks.append(Paragraph(f"The first {MOST_ON_A_SHEET} casks; plan a stock take of the other rows by itself."))
    for row, in_row in groupby(shown, key=lambda one: one.row):
        blocks += [
            Paragraph(f"Row {row}" if row else "Row not recorded", keep_with_next=True),
            _table_of_casks(take, list(in_row)),
        ]
    return blocks


def _table_of_casks(take: StockTake, casks: Sequence[Cask]) -> FigureTable:
    columns = (
        *(Column(head) for head in ("Tier", "Cask", "On the head", "Kind", "Seen")),
        Column("Gross", "kg"),
        Column("Tare", "kg"),
        Column("Temperature", "°C"),
        Column("Hydrometer", "% vol"),
        Column("Initials"),
    )
    rows = []
    for one in casks:
        weighed = ROOM if walking.is_weighed(take, one) else "-"
        kept = (one.tier or "not recorded", one.vessel.code, head_of(one), one.kind)
        rows.append((*kept, ROOM, weighed, weighed, weighed, weighed, ROOM))
    return FigureTable(columns, rows, none="No cask.")


def result_pdf(take: StockTake, *, printed_at: datetime, printed_by: str) -> bytes:
    """The PDF, landscape: what was counted where, every difference with its reason, and who put their names to it."""
    stand = standing.standing_of(take)
    shown = ending.shown_of(take, stand)
    digest = digest_of(shown)
    ended: Ending | None = getattr(take, "ending", None)
    sums = stand.sums
    state = "not posted yet" if ended is None else ended.get_how_display().lower()
    records = ", ".join(number for _, number in ended.numbers) if ended is not None else ""
    blocks: list[Block] = [
        ItemList(
            (
                Item("Day", figures.day(take.day, year=True)),
                Item("State", state),
                Item("Missing", figures.lpa(sums.missing_ul, 4), "LPA"),
                Item("Over", figures.lpa(sums.over_ul, 4), "LPA"),
                Item("Planned by", take.person.shown_name),
                Item("Posted as", records or "nothing"),
            )
        ),
        *([Paragraph(f"Given up: {ended.reason}")] if ended is not None and ended.reason else []),
        *([Paragraph(take.note)] if take.note else []),
        Heading("What was counted"),
        _places(stand),
        Heading("Apart from the book"),
        _apart(stand),
        Paragraph(figures.SIGN_OF_DIFFERENCE, small=True),
        Heading("Gauged, weighed and counted"),
        _measured(take),
        *_elsewhere(stand),
        digest_statement(digest),
        Signatures(_signatories(take, ended), with_correction_rule=False),
    ]
    furniture = Furniture(site(), RESULT_TITLE, take.number, 0, impression(printed_at, printed_by), digest)
    return print_document([Part(furniture, blocks, landscape=True)])


def _places(stand: standing.Standing) -> FigureTable:
    columns = (Column("Place"), figure_column("Counted"), figure_column("Of"), figure_column("Weighed"))
    rows = [
        (
            f"{one.name}, row {', '.join(one.rows)}" if one.rows else one.name,
            figures.count(one.counted),
            figures.count(one.of),
            figures.count(one.weighed) if one.warehouse else "",
        )
        for one in stand.places
    ]
    return FigureTable(columns, rows, none="Nothing is planned.")


def _apart(stand: standing.Standing) -> FigureTable:
    columns = (
        Column("What"),
        figure_column("Book", unit="LPA"),
        figure_column("First count", unit="LPA"),
        figure_column("Last count", unit="LPA"),
        figure_column("Difference", unit="LPA"),
        Column("Counted by"),
        Column("Reason"),
    )
    rows = []
    for one in stand.apart[:MOST_TOLD]:
        first = one.measured_first or one
        rows.append(
            (
                standing.named(one),
                figures.lpa(one.book_ul, 4),
                "" if first.pure_ul is None else figures.lpa(first.pure_ul, 4),
                one.get_how_display() if one.pure_ul is None else figures.lpa(one.pure_ul, 4),
                "" if one.missing_ul is None else figures.difference(one.missing_ul, 4),
                one.person.shown_name,
                one.reason.text if hasattr(one, "reason") else one.remark,
            )
        )
    return FigureTable(columns, rows, none="Nothing is apart from its book.")


def _measured(take: StockTake) -> FigureTable:
    columns = (
        Column("What"),
        Column("Counted"),
        Column("By"),
        Column("How"),
        figure_column("Found", unit="LPA"),
        figure_column("Book", unit="LPA"),
        figure_column("Usual evaporation", unit="LPA"),
        figure_column("Difference", unit="LPA"),
    )
    counts = standing.last_counts(take).exclude(how__in=(Count.How.SEEN, Count.How.NOT_FOUND))
    in_order = counts.select_related("vessel", "stock", "person").order_by("-what", "vessel__order", "pk")
    rows = [
        (
            standing.named(one),
            figures.moment(one.at, year=True),
            one.person.shown_name,
            one.get_how_display() if one.bottles is None else f"{figures.count(one.bottles)} bottles",
            "not declared" if one.pure_ul is None else figures.lpa(one.pure_ul, 4),
            figures.lpa(one.book_ul, 4),
            figures.lpa(one.evaporated_ul, 4) if one.evaporated_ul else "",
            "" if one.missing_ul is None else figures.difference(one.missing_ul, 4),
        )
        for one in in_order[:MOST_TOLD]
    ]
    return FigureTable(columns, rows, none="Nothing was measured.")


def _elsewhere(stand: standing.Standing) -> list[Block]:
    found = [(standing.named(one), one.place, one.remark) for one in stand.elsewhere[:MOST_TOLD]]
    if not found:
        return []
    columns = (Column("Cask"), Column("Seen in"), Column("Remark"))
    return [Heading("Seen where the books do not have them"), FigureTable(columns, found)]


def _signatories(take: StockTake, ended: Ending | None) -> tuple[Signatory, ...]:
    if ended is None or ended.second is None:
        return (Signatory("Counted"), Signatory("Agreed and posted"))
    ready = ending.ready_of(take)
    said_at = ready.at if ready is not None else None
    return (
        Signatory("Said that all is counted", ended.person.shown_name, said_at),
        Signatory("Agreed and posted", ended.second.shown_name, ended.at),
    )
