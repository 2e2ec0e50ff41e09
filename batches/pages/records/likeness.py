"""The small table on a record's page that puts its figures beside their kind: value, usual, and what that rests on."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby

from distillery import pages
from ledger.comparing.model.kinds.deviations import Deviation, deviations_of
from ledger.comparing.observations.standing_figures import Uncertainties

CAPTION = "Compared with others of its kind"
EMPTY = "Nothing of this record can be compared with its kind yet."


def kinds_table(kind: str, number: str, known: Uncertainties) -> pages.Table | None:
    """The figures of a record beside their kind; None where none can be compared. Asks for them in two queries.

    `known` are the uncertainties of the record's readings.
    """
    found = sorted(deviations_of(kind, number, known), key=lambda one: one.name)
    lines = [line for _name, same in groupby(found, key=lambda one: one.name) for line in _lines(list(same))]
    if not lines:
        return None
    columns = (
        pages.Column("Figure"),
        pages.Column("Written", numeric=True),
        pages.Column("Usual", numeric=True),
        pages.Column("Unit"),
        pages.Column("Rests on"),
    )
    bases = {line.cells[-1].text for line in lines}
    if len(bases) > 1:
        return pages.Table(CAPTION, columns, lines, EMPTY)
    # Where all rest on the same, it is said once.
    rows = [pages.Row(line.cells[:-1]) for line in lines]
    return pages.Table(CAPTION, columns[:-1], rows, EMPTY, note=f"resting on {bases.pop()}")


def stands_out(table: pages.Table | None) -> bool:
    """True where a figure of the table is one to look at."""
    return table is not None and any(cell.state is not None for row in table.rows for cell in row.cells)


def _lines(same: list[Deviation]) -> Iterable[pages.Row]:
    """A line each; of the casks of a fill, those that stand out, or else the one that is furthest off."""
    if len(same) > 1:
        furthest = max(same, key=lambda one: abs(one.z))
        same = [one for one in same if one.is_outlier] or [furthest]
    return [_line(one) for one in same]


def _line(one: Deviation) -> pages.Row:
    name = f"{one.name[:1].upper()}{one.name[1:]}"
    return pages.Row(
        (
            pages.Cell(f"{name}, cask {one.vessel}" if one.vessel else name),
            pages.Cell(one.written(one.value), state=pages.LOOK if one.is_outlier else None),
            pages.Cell(one.written(one.expected)),
            pages.Cell(one.unit),
            pages.Cell(one.basis),
        )
    )
