"""The tables of a month's page: by place and by stage, how its figures are known, losses and gains apart, yields, the
months before.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.urls import reverse

from distillery.figures import count, day, difference, lpa, number
from distillery.pages import Cell, Column, Row, Table
from distillery.plant.models import Stage
from ledger.statements.month import MonthAccount, StageLine
from ledger.statements.monthly.causes import Apart
from ledger.statements.monthly.earlier import MonthLine
from ledger.statements.monthly.known import KnownLine
from ledger.statements.monthly.reading import MonthRead
from ledger.statements.monthly.told import YieldLine

FIGURES = ("Opening", "In", "Out", "Known losses", "Should be", "Closing", "Difference", "Of what went in")
LPA = "LPA"
NOTHING = "-"


def _heads(first: str) -> tuple[Column, ...]:
    *amounts, share = FIGURES
    return (Column(first), *(Column(head, numeric=True, unit=LPA) for head in amounts), Column(share, True, "%"))


def _line(line: StageLine, name: Cell) -> list[Cell]:
    figures = (line.opening_ul, line.in_ul, line.out_ul, line.loss_ul, line.should_be_ul, line.closing_ul)
    share = NOTHING if line.in_ul <= 0 else number(100.0 * abs(line.difference_ul) / line.in_ul, 2)
    return [name, *(Cell(lpa(one)) for one in figures), Cell(difference(line.difference_ul)), Cell(share)]


def place_table(month: MonthRead) -> Table:
    """A line for each place, and the site."""
    return Table(
        caption="By place",
        note="what passes between places cancels in the line of the site",
        columns=_heads("Place"),
        rows=[Row(_line(line, Cell(line.stage))) for line in month.places],
        empty="Nothing was posted up to the end of this month.",
        total=Row(_line(month.account.site, Cell("Site")), total=True),
        wide=True,
    )


def stage_table(account: MonthAccount) -> Table:
    """A line for each stage, and the site."""
    return Table(
        caption="By stage",
        note="what passes between stages cancels in the line of the site",
        columns=_heads("Stage"),
        rows=[Row(_line(line, Cell(Stage(line.stage).label))) for line in account.stages],
        empty="Nothing was posted in this month.",
        total=Row(_line(account.site, Cell("Site")), total=True),
        wide=True,
    )


def known_table(month: MonthRead) -> Table:
    """What was gauged in the month, what was counted, and what stands by its book."""
    return Table(
        caption="How the closing figures are known",
        note="gauged: a gauge of the vessel or cask lies in this month, or a cask was weighed as it was filled; "
        "seen: a stock take saw the cask and did not weigh it",
        columns=(
            Column("Place"),
            Column("Vessels gauged", numeric=True),
            *(Column(head, numeric=True, unit=LPA) for head in ("Gauged", "Counted", "Seen", "By book", "Closing")),
            Column("Oldest gauge of what is older"),
        ),
        rows=[Row(_known(line)) for line in month.known],
        empty="Nothing was held at the end of this month.",
        total=Row(_known(month.known_in_all), total=True) if month.known else None,
    )


def _known(line: KnownLine) -> list[Cell]:
    amounts = (line.gauged_ul, line.counted_ul, line.seen_ul, line.book_ul, line.closing_ul)
    oldest = NOTHING if line.gauged_at is None else day(line.gauged_at, year=True)
    return [Cell(line.place), Cell(count(line.gauged)), *(Cell(lpa(one)) for one in amounts), Cell(oldest)]


def known_in_words(line: KnownLine) -> str:
    """What is said beside the closing figure of the site."""
    counted = f", {lpa(line.counted_ul)} counted" if line.counted_ul else ""
    counted += f", {lpa(line.seen_ul)} seen in cask" if line.seen_ul else ""
    gauged, by_book = lpa(line.gauged_ul), lpa(line.book_ul)
    return f"Of the closing figure {gauged} LPA were gauged in this month{counted}, {by_book} LPA stand by book."


def loss_table(losses: Sequence[Apart]) -> Table:
    """Known losses by cause; what was booked back beside them, set off against nothing."""
    return Table(
        caption="Known losses by cause",
        columns=(Column("Cause"), Column("Lost", True, LPA), Column("Booked back", True, LPA)),
        rows=[Row([Cell(one.name.capitalize()), Cell(lpa(one.missing_ul)), Cell(lpa(one.over_ul))]) for one in losses],
        empty="No known losses in this month.",
        total=_apart_total(losses),
    )


def difference_table(differences: Sequence[Apart]) -> Table:
    """Differences nobody has explained, record by record: missing and over apart."""
    return Table(
        caption="Differences nobody has explained",
        note="missing and over are added up apart, record by record",
        columns=(Column("Where"), Column("Missing", True, LPA), Column("Over", True, LPA), Column("Both", True, LPA)),
        rows=[
            Row(
                [
                    Cell(_where(one.name)),
                    Cell(lpa(one.missing_ul)),
                    Cell(lpa(one.over_ul)),
                    Cell(difference(one.net_ul)),
                ]
            )
            for one in differences
        ],
        empty="No differences in this month.",
        total=_apart_total(differences, net=True),
    )


def _where(name: str) -> str:
    return name.removeprefix("difference, ").capitalize()


def _apart_total(lines: Sequence[Apart], *, net: bool = False) -> Row | None:
    if not lines:
        return None
    missing, over = sum(one.missing_ul for one in lines), sum(one.over_ul for one in lines)
    both = [Cell(difference(missing - over))] if net else []
    return Row([Cell("Total"), Cell(lpa(missing)), Cell(lpa(over)), *both], total=True)


def yield_table(yields: Sequence[YieldLine]) -> Table:
    """What the malt came to beside what it promised."""
    return Table(
        caption="Yields",
        note="LPA a tonne of malt; wash as its fermentation declared it, before the stills",
        columns=(
            Column("What"),
            Column("Malt", True, "kg"),
            Column("Reached", True, "LPA/t"),
            Column("Malt promised", True, "LPA/t"),
            Column("Of that", True, "%"),
            Column("State"),
        ),
        rows=[
            Row(
                [
                    Cell(one.name, href=one.href),
                    Cell(number(one.malt_kilograms, 0)),
                    _or_none(one.reached, "none yet"),
                    _or_none(one.promised, "not known"),
                    _or_none(one.efficiency, "not known"),
                    Cell(one.said or NOTHING),
                ]
            )
            for one in yields
        ],
        empty="No mash was begun and no distillation period ended in this month.",
    )


def _or_none(value: float | None, none: str) -> Cell:
    return Cell(none if value is None else number(value, 1))


def earlier_table(months: Iterable[MonthLine]) -> Table:
    """The line of the site of this month and of those before it, each opening to its month."""
    return Table(
        caption="This month and those before it",
        note="the line of the site",
        columns=_heads("Month"),
        rows=[
            Row(_line(one.site, Cell(one.name, href=reverse("month", kwargs={"period": one.period})))) for one in months
        ],
        empty="There is no month yet.",
        wide=True,
    )
