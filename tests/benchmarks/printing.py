"""How a printed table of 1,000 and 10,000 rows compares with the same figures drawn bare on a canvas.

Run from the root of the repository: `python tests/benchmarks/printing.py`. Both ways are timed in turns in one
process with the same font, eight columns and text ready made; the ratio of the medians is what counts. The bare way
draws no rule, no head and measures nothing but what it sets to the right, so it is the least such a print can cost.
"""

from __future__ import annotations

import os
import statistics
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "distillery.settings")

import django  # noqa: E402

django.setup()

from reportlab.pdfgen.canvas import Canvas  # noqa: E402

from distillery.printing import paper  # noqa: E402
from distillery.printing.document import Part, print_document  # noqa: E402
from distillery.printing.furniture import Furniture, Impression, Site  # noqa: E402
from distillery.printing.tabled.columns import Column, figure_column  # noqa: E402
from distillery.printing.tabled.tables import FigureTable  # noqa: E402

ROUNDS = 5
ROWS_ON_A_PAGE = 40
Row = tuple[str, ...]


def rows_of(count: int) -> list[Row]:
    return [
        (f"Entry {number}", "Spirit receiver", *(f"{number * 7 + column:,}.{column}0" for column in range(6)))
        for number in range(count)
    ]


def printed_table(rows: list[Row]) -> int:
    columns = (Column("Entry"), Column("Vessel"), *(figure_column(f"Figure {n}", unit="LPA") for n in range(6)))
    impression = Impression(datetime(2026, 11, 25, 14, 2, tzinfo=UTC), "Ines Marlow")
    furniture = Furniture(Site("Harrowmere Distillery"), "Trial", "TS-1", 1, impression)
    return len(print_document([Part(furniture, [FigureTable(columns, rows)])]))


def bare_canvas(rows: list[Row]) -> int:
    paper.fonts()
    target = BytesIO()
    canvas = Canvas(target, pagesize=(paper.PORTRAIT.width, paper.PORTRAIT.height), pageCompression=1, invariant=1)
    for start in range(0, len(rows), ROWS_ON_A_PAGE):
        canvas.setFont(paper.REGULAR, 10)
        for position, row in enumerate(rows[start : start + ROWS_ON_A_PAGE]):
            baseline = 780 - position * 16
            for column, text in enumerate(row):
                if column < 2:
                    canvas.drawString(57 + column * 60, baseline, text)
                else:
                    canvas.drawRightString(120 + column * 60, baseline, text)
        canvas.showPage()
    canvas.save()
    return len(target.getvalue())


def seconds(way: Callable[[list[Row]], int], rows: list[Row]) -> float:
    started = time.perf_counter()
    way(rows)
    return time.perf_counter() - started


def main() -> None:
    for count in (1_000, 10_000):
        rows = rows_of(count)
        table_times, bare_times = [], []
        for _ in range(ROUNDS):
            table_times.append(seconds(printed_table, rows))
            bare_times.append(seconds(bare_canvas, rows))
        table, bare = statistics.median(table_times), statistics.median(bare_times)
        print(
            f"{count:>6,} rows: printed table {table:.3f} s, bare canvas {bare:.3f} s, "
            f"ratio {table / bare:.2f} (aim: at most 2.0), "
            f"{1000 * table / (count / ROWS_ON_A_PAGE):.2f} ms for each {ROWS_ON_A_PAGE} rows"
        )


if __name__ == "__main__":
    main()
