"""What a sheet on the page is made of: rows of boxes with their heads, tables of them, strips of boxes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from batches.pages.writing.boxes import ShownBox
from batches.pages.writing.grid.worked_out import CameTo


@dataclass(frozen=True, slots=True)
class Column:
    """The head of a column: unit, what is usual where that is the same all the way down, whether it may stay blank."""

    label: str
    unit: str = ""
    usual: str = ""
    optional: bool = False
    part: str = ""


@dataclass(frozen=True, slots=True)
class Cell:
    """One box with its hidden label; or, where no box stands, why not.

    The label is the `name` of the vessel, which the field `vessel` chooses, and what is asked of it.
    """

    box: ShownBox | None = None
    asked: str = ""
    said: str = ""
    short: str = ""
    vessel: str = ""
    name: str = ""

    @property
    def label(self) -> str:
        """'Low wines receiver, before charging: dip, mm'."""
        return f"{self.name}, {self.asked}" if self.name else self.asked

    @property
    def errors(self) -> Sequence[str]:
        """What is wrong with it."""
        return [str(one) for one in self.box.bound.errors] if self.box is not None else []


@dataclass(slots=True)
class GridRow:
    """A gauge or a repeating line: its head, its boxes, and what it comes to where that is known."""

    key: str
    head: str
    cells: list[Cell]
    came: CameTo | None = None
    has_end: bool = True
    # Which other gauge it is, unless it is written down apart.
    shared: str = ""

    @property
    def said(self) -> list[Cell]:
        """The boxes below which something is said."""
        return [one for one in self.cells if one.box is not None and (one.errors or one.box.echo)]


@dataclass(slots=True)
class VesselGroup:
    """The gauges of one vessel. `box` chooses it, where it is chosen on this page."""

    vessel: str
    name: str
    code: str
    about: str
    box: ShownBox | None
    usual: str = ""
    rows: list[GridRow] = field(default_factory=list)


@dataclass(slots=True)
class GaugeTable:
    """One row a gauge."""

    caption: str
    columns: list[Column]
    groups: list[VesselGroup]

    @property
    def width(self) -> int:
        """How many columns it has, the head of the rows and the three of their end among them."""
        return len(self.columns) + 4


@dataclass(slots=True)
class LineTable:
    """One row a repeating line, with a row in reserve for lines that are added on the page."""

    caption: str
    columns: list[Column]
    rows: list[GridRow]
    spare: GridRow
    has_end: bool

    @property
    def width(self) -> int:
        """How many columns it has."""
        return len(self.columns) + (4 if self.has_end else 1)


@dataclass(slots=True)
class Block:
    """One part of the sheet: boxes beside one another, or gauges, under a heading where a new part begins."""

    moment: str
    heading: str = ""
    caution: str = ""
    boxes: list[ShownBox] = field(default_factory=list)
    table: GaugeTable | None = None

    @property
    def is_begun(self) -> bool:
        """True where something stands in one of its boxes, or is wrong with one."""
        return any(box.bound.errors or box.value.strip() not in ("", box.assumed) for box in self.all_boxes())

    def all_boxes(self) -> Iterator[ShownBox]:
        """Its boxes as they follow one another, those of a gauge that is another one left out."""
        yield from self.boxes
        for group in self.table.groups if self.table else ():
            if group.box is not None:
                yield group.box
            yield from (cell.box for row in group.rows if not row.shared for cell in row.cells if cell.box)
