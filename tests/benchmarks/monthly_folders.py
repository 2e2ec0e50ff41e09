"""The tables of many simulated months laid out as a site would have loaded them: a folder at the end of each month.

A record that was begun in one month and ended in the next stands in both folders, first with what was known by then.
The plant and what was there at the opening stand in the first alone. The simulator's clock knows no summer time; its
times are taken as UTC and written as the site's clock showed them.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from batches.sheets.sheet import Kind, Sheet
from batches.sheets.typed.moments import dated
from batches.steps import STEPS
from tests.simulator.columns import LOG, PLANT
from tests.simulator.month import Month
from tests.simulator.writing import log_tables, plant_tables

Row = Mapping[str, Any]
Tables = dict[str, list[Row]]

AT_OPENING = ("opening_stock", "opening_bottled_stock")


def months_from(first: str, count: int) -> list[str]:
    """So many months from this one ('2021-11') on."""
    year, month = (int(part) for part in first.split("-"))
    places = range(year * 12 + month - 1, year * 12 + month - 1 + count)
    return [f"{place // 12}-{place % 12 + 1:02}" for place in places]


def write_months(worked: Month, months: list[str], folder: Path, log_columns: Mapping[str, list[str]] = LOG) -> None:
    """Writes a folder for each month, named by it, into `folder`. Raises KeyError for what happened in none of them."""
    tables = _by_month(log_tables(worked, log_columns), months)
    _write_plant(worked, folder / months[0])
    for month in months:
        for name, columns in log_columns.items():
            _write(folder / month / "log" / f"{name}.csv", columns, tables[month][name])


def write_whole(worked: Month, folder: Path, log_columns: Mapping[str, list[str]] = LOG) -> None:
    """Writes all months as one folder, every record as it stood at the end of them."""
    _write_plant(worked, folder)
    times = {sheet.table: [one.name for one in sheet.fields if one.kind == Kind.MOMENT] for sheet in STEPS}
    tables = log_tables(worked, log_columns)
    for name, columns in log_columns.items():
        rows = [_on_the_clock(row, times.get(name, ("at",))) for row in tables[name]]
        _write(folder / "log" / f"{name}.csv", columns, rows)


def _write_plant(worked: Month, folder: Path) -> None:
    plant = plant_tables(worked.plant)
    for name, columns in PLANT.items():
        rows = [_on_the_clock(row, ("filled_at",)) for row in plant[name]]
        _write(folder / "plant" / f"{name}.csv", columns, rows)


def _by_month(log: Mapping[str, list[Row]], months: list[str]) -> dict[str, Tables]:
    found: dict[str, Tables] = {month: defaultdict(list) for month in months}
    sheets = {sheet.table: sheet for sheet in STEPS}
    for name, rows in log.items():
        if name == "opening_bottled_stock":
            found[months[0]][name] += rows
        elif name == "readings":
            for row in rows:
                found[row["at"][:7]][name].append(_on_the_clock(row, ("at",)))
        else:
            for row in rows:
                for month, part in _parts(sheets[name], row):
                    found[month][name].append(part)
    return found


def _parts(sheet: Sheet, row: Row) -> Iterator[tuple[str, Row]]:
    """A row as it stood at the end of each month in which a moment of it happened."""
    moments = {one.name: row[one.when][:7] for one in sheet.moments if row.get(one.when)}
    times = [one.name for one in sheet.fields if one.kind == Kind.MOMENT]
    for month in sorted(set(moments.values())):
        later = {name for name, happened in moments.items() if happened > month}
        fields = {one.name for one in (*sheet.fields, *sheet.row_fields)}
        known = {
            name: cell for name, cell in row.items() if name not in fields or sheet.moment_of(name).name not in later
        }
        yield month, _on_the_clock(known, times)


def _on_the_clock(row: Row, times: Iterable[str]) -> Row:
    """The row with its times as the site's clock showed them."""
    shown = {name: dated(datetime.fromisoformat(row[name]).replace(tzinfo=UTC)) for name in times if row.get(name)}
    return {**row, **shown}


def _write(path: Path, columns: list[str], rows: Iterable[Row]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns)
        writer.writeheader()
        writer.writerows(rows)
