"""What crossed a close, as a table: on the page of the month that was closed and of the one that carries it."""

from __future__ import annotations

from collections.abc import Sequence

from django.urls import reverse

from distillery.figures import difference, lpa, moment, pounds
from distillery.pages import Cell, Column, Row, Table
from ledger.periods.crossing import Crossing, carried_from, carried_into
from ledger.views.ways import record_href

NOTHING_DECLARED = "nothing of it was declared"


def crossed_tables(period: str, lines: Sequence[Crossing]) -> list[tuple[str, Table]]:
    """By the name of the table: what this period carries for closed ones, what later ones carry for it."""
    brought, sent = carried_into(period, lines), carried_from(period, lines)
    tables = []
    if brought:
        note = "late: it happened before this period, which bears it because its own was closed"
        tables.append(("brought", _table(brought, "Carried into this period over a close", note, into=False)))
    if sent:
        note = "none of it is in the figures above, which stay as they were closed"
        tables.append(("carried", _table(sent, "Written about this period since it was closed", note, into=True)))
    return tables


def _table(lines: Sequence[Crossing], caption: str, note: str, *, into: bool) -> Table:
    heads = ("In", "Out", "Known losses", "Difference")
    declared = any(one.removals for one in lines)
    sums = [sum(amounts) for amounts in zip(*(_amounts(one) for one in lines), strict=True)]
    return Table(
        caption=caption,
        note=note,
        columns=(
            Column("Record"),
            Column("Operation"),
            Column("Truly happened"),
            Column("Written"),
            Column("Carried in" if into else "Of"),
            *(Column(head, numeric=True, unit="LPA") for head in heads),
            *([Column("Declared")] if declared else []),
            Column("Movements"),
        ),
        rows=[
            Row(
                [
                    Cell(one.record, href=record_href(one.record_kind, one.record)),
                    Cell(one.operation),
                    Cell(moment(one.truly_at, year=True)),
                    Cell(moment(one.written_at, year=True)),
                    Cell(
                        one.into_name if into else one.of_name,
                        href=reverse("month", kwargs={"period": one.into if into else one.of}),
                    ),
                    *_cells(_amounts(one)),
                    *([Cell(_declared(one))] if declared else []),
                    Cell(", ".join(str(number) for number in one.movements)),
                ]
            )
            for one in lines
        ],
        empty="Nothing crossed a close.",
        total=Row(
            [Cell("Total"), *(Cell("") for _ in range(4)), *_cells(sums), *([Cell("")] if declared else []), Cell("")],
            total=True,
        ),
        wide=True,
    )


def _cells(amounts: Sequence[int]) -> list[Cell]:
    *moved, left = amounts
    return [*(Cell(lpa(one)) for one in moved), Cell(difference(left))]


def _declared(one: Crossing) -> str:
    """What it changes of what the closed period declared, by kind of removal; that goes on a later return and refers to
    the period it is about."""
    said = []
    for kind, moved in one.removals.items():
        if moved.pure_ul or moved.pence:
            word = "under-declared" if (moved.pure_ul or moved.pence or 0) > 0 else "over-declared"
            duty = "duty not known" if moved.pence is None else f"\N{POUND SIGN}{pounds(abs(moved.pence))}"
            said.append(f"{kind}: {lpa(abs(moved.pure_ul))} LPA, {duty}, {word} of {one.of_name}")
    return "; ".join(said) or NOTHING_DECLARED


def _amounts(one: Crossing) -> tuple[int, int, int, int]:
    return one.in_ul, one.out_ul, one.loss_ul, one.difference_ul
