"""The sheets of a workbook: each fills tables that a month's folder has too, under heads with units."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from batches.loading.plant_columns import PLANT
from batches.sheets.sheet import Field, Kind
from batches.steps import STEPS
from distillery.plant.outfit import DENSITY, SCALES

HOW: Final = "How"
MARK: Final = "Mark"
EXAMPLE: Final = "example"
FIRST_ROW: Final = 2
# Days without a time, which the tables keep as text.
_DAYS: Final = frozenset({"from_day", "issued_on"})


@dataclass(frozen=True, slots=True)
class Column:
    """One column: the field behind it, its head, and what stands in the example."""

    field: Field
    example: str

    @property
    def name(self) -> str:
        """The column of the tables."""
        return self.field.name

    @property
    def head(self) -> str:
        """What stands in the first row: Gross (kg)."""
        return f"{self.field.label} ({self.field.unit})" if self.field.unit else self.field.label

    @property
    def is_figure(self) -> bool:
        """True where a number belongs."""
        return self.field.kind in (Kind.NUMBER, Kind.WHOLE)

    @property
    def is_moment(self) -> bool:
        """True where a day with a time belongs."""
        return self.field.kind == Kind.MOMENT

    @property
    def is_day(self) -> bool:
        """True where a day belongs."""
        return self.name in _DAYS

    @property
    def may_be_blank(self) -> bool:
        """True where nothing has to stand."""
        return not self.field.required or self.field.told_by is not None


@dataclass(frozen=True, slots=True)
class WorkbookSheet:
    """One sheet: its title, the tables it fills, by which columns a row is known, and what is said of it."""

    title: str
    files: tuple[str, ...]
    known_by: tuple[str, ...]
    columns: tuple[Column, ...]
    says: str

    def column(self, name: str) -> Column | None:
        """The column of a field; None for one that does not stand here."""
        return next((one for one in self.columns if one.name == name), None)


def _of(fields: Iterable[Field], *examples: str) -> tuple[Column, ...]:
    return tuple(Column(one, example) for one, example in zip(fields, examples, strict=True))


def _step(table: str) -> tuple[Field, ...]:
    sheet = next(one for one in STEPS if one.table == table)
    return tuple(sheet.field(name) for name in sheet.columns)


VESSELS: Final = WorkbookSheet(
    "Vessels",
    ("plant/vessels.csv",),
    ("vessel",),
    _of(PLANT["vessels"], "WB1", "Washback 1", "washback", "wash", "10800", ""),
    "Every washback, still, receiver, vat and tank, one a row. Casks have a sheet of their own.",
)
DIP_TABLES: Final = WorkbookSheet(
    "Dip tables",
    ("plant/calibration.csv",),
    ("vessel", "dip_mm"),
    _of(PLANT["calibration"], "WB1", "100", "224.9"),
    "What a vessel holds at each dip, one point a row, as its calibration has it. Dip and litres rise from row to row.",
)
SURE_TABLES: Final = WorkbookSheet(
    "Dip tables, how sure",
    ("plant/calibration_uncertainty.csv",),
    ("vessel", "from_day"),
    _of(PLANT["calibration_uncertainty"], "WB1", "2026-11-02", "0.15", "Calibration certificate 114", "20", ""),
    "How sure the dip table of a vessel is, from which day. Leave the sheet empty where nothing is known.",
)
INSTRUMENTS: Final = WorkbookSheet(
    "Instruments",
    ("plant/instruments.csv",),
    ("instrument",),
    _of(PLANT["instruments"], "HYD-1", "strength", "percent_vol", "0.1", "0.1", "20", "", "", ""),
    "What dips, temperatures, strengths and weights are read with. The unit of a scale for strength is one of "
    f"{', '.join(sorted(one for one in SCALES if one))}, {DENSITY}.",
)
IN_USE: Final = WorkbookSheet(
    "Instruments in use",
    ("plant/instruments_in_use.csv",),
    ("instrument", "from_day", "vessel"),
    _of(PLANT["instruments_in_use"], "HYD-1", "2026-11-02", ""),
    "From which day an instrument is read, on the whole site or at one vessel.",
)
CERTIFICATES: Final = WorkbookSheet(
    "Certificates",
    ("plant/certificates.csv",),
    ("instrument", "certificate", "reading"),
    _of(PLANT["certificates"], "HYD-1", "2210", "Harrowmere Weights", "2026-10-14", "2026-11-02", "0.05", "40", "0.1"),
    "What a certificate corrects, one point of it a row.",
)
CASKS: Final = WorkbookSheet(
    "Casks",
    ("plant/maturing_casks.csv", "plant/empty_casks.csv"),
    ("number",),
    _of(
        PLANT["maturing_casks"],
        *("2022/0001", "barrel", "1", "200", "1A", "2022-02-15 09:00", "46.6", "223.4", "63.5"),
        *("R1", "T2", "american oak, bourbon", "", "", "", ""),
    ),
    "Every cask, full and empty. A full one has when it was filled, tare, gross and strength as it was filled; "
    "an empty one has these four blank.",
)
OPENING_STOCK: Final = WorkbookSheet(
    "Opening stock",
    ("log/opening_stock.csv",),
    ("vessel",),
    _of(_step("opening_stock"), "SR1", "2027-03-01 06:00", "506", "16.4", "34.8"),
    "One gauge of each vessel that holds alcohol on the day its account is opened. Empty vessels are left out.",
)
BOTTLED: Final = WorkbookSheet(
    "Opening bottled stock",
    ("log/opening_bottled_stock.csv",),
    ("product", "bottle_centilitres", "label_percent"),
    _of(_step("opening_bottled_stock"), "2027-03-01 06:00", "gin", "70", "41.4", "310"),
    "Bottles under bond, one product, size and strength a row.",
)
SHEETS: Final = (
    VESSELS,
    DIP_TABLES,
    SURE_TABLES,
    INSTRUMENTS,
    IN_USE,
    CERTIFICATES,
    CASKS,
    OPENING_STOCK,
    BOTTLED,
)
OF_FILE: Final = {file: sheet for sheet in SHEETS for file in sheet.files}
