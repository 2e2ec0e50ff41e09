"""A workbook with forty planted mistakes: every one is named by its sheet and cell, and nothing is written."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook

from batches.loading.workbook.bringing import bring_in
from batches.loading.workbook.report import Report
from batches.loading.workbook.template import write_template
from batches.models import Record
from distillery.plant.models import CalibrationPoint, Cask, Instrument, Vessel
from ledger.models import Movement

pytestmark = pytest.mark.django_db

# Columns begin at B, behind the mark.
VESSELS = [
    ["WB1", "Washback 1", "washback", "wash", 10800],
    ["SR1", "Spirit receiver 1", "receiver", "new spirit", 1200, "spirit"],
    ["SR2", "Spirit receiver 2", "receiver", "new spirit", 1200],
]
DIPS = [[code, dip, litres] for code in ("SR1", "SR2") for dip, litres in ((0, 0), (500, 600.5), (1000, 1201))]
INSTRUMENTS = [
    ["DIP", "dip", "mm", 1, 0.85],
    ["THERM", "temperature", "celsius", 0.1, 0.08, ""],
    ["HYD", "strength", "percent_vol", 0.1, 0.1, 20],
]
CASKS = [
    ["2022/0001", "barrel", 1, 200, "1A", "2022-02-15 09:00", 46.6, 223.4, 63.5],
    ["2022/0002", "hogshead", 2, 250, "1A", datetime(2022, 3, 15, 9), 58.2, 279.5, "63.5 %"],
    ["E1", "hogshead", 1, 250, "1B"],
]
STOCK = [["SR1", "2027-03-01 06:00", 506, 16.4, 34.8]]
BOTTLED = [["2027-03-01 06:00", "gin", 70, 41.4, 310]]
ROWS = {
    "Vessels": VESSELS,
    "Dip tables": DIPS,
    "Instruments": INSTRUMENTS,
    "Casks": CASKS,
    "Opening stock": STOCK,
    "Opening bottled stock": BOTTLED,
}


def filled(path: Path, rows: dict[str, list[list[object]]] = ROWS) -> Workbook:
    with path.open("wb") as file:
        write_template(file)
    book = load_workbook(path)
    for title, lines in rows.items():
        for line in lines:
            book[title].append(["", *line])
    return book


def tried(book: Workbook, path: Path, *, write: bool = False) -> Report:
    book.save(path)
    return bring_in(path, write=write)


# Sheet, cell, what stands there, and a part of the sentence that names it. Row 1 has heads, row 2 the example.
MISTAKES: list[tuple[str, str, object, str]] = [
    ("Vessels", "D4", "reciever", "Kind"),
    ("Vessels", "F5", -1200, "Capacity"),
    ("Vessels", "B6", "WB1", "stands on row 3 already"),
    ("Vessels", "C7", None, "Name is blank"),
    ("Vessels", "E8", "new spirits", "Stage"),
    ("Vessels", "F9", "=1000+200", "formula"),
    ("Vessels", "G10", "gin", "Kept for"),
    ("Vessels", "K3", "ask Isla", "under no head"),
    ("Dip tables", "C10", 400, "does not rise"),
    ("Dip tables", "B11", "SR9", "no vessel SR9"),
    ("Dip tables", "D12", "lots", "not a figure"),
    ("Dip tables", "C13", True, "TRUE"),
    ("Instruments", "F6", 0, "Standard uncertainty"),
    ("Instruments", "I7", "sinking", "Works by"),
    ("Instruments", "E8", date(2027, 3, 1), "holds a day"),
    ("Instruments in use", "C3", "1 March", "not a day"),
    ("Instruments in use", "B4", "HYD-9", "no instrument HYD-9"),
    ("Certificates", "E3", 44621, "figure 44621 where a day belongs"),
    ("Certificates", "F4", "2026-01-01", "before the day it was issued"),
    ("Dip tables, how sure", "D3", 40, "Standard uncertainty"),
    ("Dip tables, how sure", "E4", None, "Source is blank"),
    ("Casks", "B6", datetime(2022, 1, 1), "holds a day"),
    ("Casks", "E7", "two hundred", "not a figure"),
    ("Casks", "D8", 0, "Fill"),
    ("Casks", "G9", "2022-02-31 09:00", "no such day"),
    ("Casks", "I10", 40, "below the tare"),
    ("Casks", "J11", 635, "Strength"),
    ("Casks", "B12", "2022/0001", "stands on row 3 already"),
    ("Casks", "H13", None, "Tare"),
    ("Casks", "H14", 50, "A tare alone"),
    ("Casks", "J15", "#N/A", "error of a formula"),
    ("Casks", "F16", "x" * 41, "at most 40"),
    ("Casks", "A17", "sold", "Only 'example'"),
    ("Opening stock", "B4", "SR7", "SR7"),
    ("Opening stock", "E5", 95, "Gauge: temperature"),
    ("Opening stock", "B6", "SR1", "stands on row 3 already"),
    ("Opening stock", "D7", 99999, "dip"),
    ("Opening bottled stock", "F4", 2.5, "whole number"),
    ("Opening bottled stock", "C5", None, "Product"),
    ("Opening bottled stock", "E6", 0, "Strength on the label"),
]
# Rows that are right but for the one mistake.
BESIDE: dict[str, list[list[object]]] = {
    "Vessels": [
        *VESSELS[:1],
        ["TK1", "Tank 1", "tank", "vatted and reduced", 900],
        ["TK2", "Tank 2", "tank", "vatted and reduced", 900],
        ["WB1", "Washback 1", "washback", "wash", 10800],
        *(["TK3", "Tank 3", "tank", "vatted and reduced", 900],),
        ["TK4", "Tank 4", "tank", "vatted and reduced", 900],
        ["TK5", "Tank 5", "tank", "vatted and reduced", 900],
        ["TK6", "Tank 6", "tank", "vatted and reduced", 900],
        *VESSELS[1:],
    ],
    "Dip tables": [
        *DIPS,
        ["SR2", 2000, 2402],
        ["SR2", 1500, 2500],
        ["SR9", 0, 0],
        ["WB1", 0, 0],
        ["WB1", 100, 224.9],
    ],
    "Instruments": [
        *INSTRUMENTS,
        ["SCALE", "mass", "kg", 0.1, 0.1],
        ["HYD2", "strength", "percent_vol", 0.1, 0.1, 20],
        ["DIP2", "dip", "mm", 1, 0.85],
    ],
    "Instruments in use": [["DIP", "2027-03-01"], ["HYD", "2027-03-01"]],
    "Certificates": [
        ["HYD", "2210", "Harrowmere Weights", "2026-10-14", "2026-11-02", 0.05],
        ["THERM", "2211", "Harrowmere Weights", "2026-10-14", "2026-11-02", 0.05],
    ],
    "Dip tables, how sure": [
        ["SR1", "2026-11-02", 0.15, "Certificate 114"],
        ["SR2", "2026-11-02", 0.15, "Certificate 115"],
    ],
    "Casks": [
        *CASKS,
        *([f"2022/{100 + row:04d}", *CASKS[0][1:]] for row in range(6, 14)),
        ["E14", *CASKS[2][1:]],
        *([f"2022/{100 + row:04d}", *CASKS[0][1:]] for row in range(15, 18)),
    ],
    "Opening stock": [*STOCK, *([code, *STOCK[0][1:]] for code in ("SR3", "SR2", "SR3", "WB1"))],
    "Opening bottled stock": [*BOTTLED, *([BOTTLED[0][0], f"gin {row}", *BOTTLED[0][2:]] for row in range(4, 7))],
}


def _planted(path: Path) -> Workbook:
    book = filled(path, BESIDE)
    for title, cell, value, _ in MISTAKES:
        book[title][cell] = value
    return book


def test_all_forty_are_named_and_nothing_is_written(tmp_path) -> None:
    assert len(MISTAKES) == 40
    report = tried(_planted(tmp_path / "site.xlsx"), tmp_path / "site.xlsx", write=True)
    said = {(one.sheet, one.cell): one.sentence for one in report.troubles}
    missed = [(sheet, cell, part) for sheet, cell, _, part in MISTAKES if part not in said.get((sheet, cell), "")]
    assert missed == [], said
    assert len(report.troubles) == 40
    assert not report.written
    assert not any(model.objects.exists() for model in (Vessel, Cask, CalibrationPoint, Instrument, Record, Movement))
