"""What the tests of the simulator need to judge a folder: how figures are written, and gauges in order of time."""

import csv
import re
from collections import defaultdict
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from .faults import measure_error
from .instruments import alcohol_of
from .month import Mark, Month
from .vessels import Calibration

HERE = Path(__file__).parent

STAMP = r"\d{4}-\d\d-\d\dT\d\d:\d\d"
WHOLE, ONE_PLACE = r"\d+", r"\d+\.\d"
FORMATS = (
    (r".*_dip_mm|dip_mm", WHOLE),
    (r".*celsius", r"-?\d+\.\d"),
    (r".*hydrometer_percent", ONE_PLACE),
    (r"at|.*_at", STAMP),
    (r".*gravity", r"[01]\.\d{1,4}"),
    (r"tare_kg|gross_kg|water_kg|grist_kg|yeast_kg", ONE_PLACE),
    (r"charcoal_kg|baskets|bottles|bottle_centilitres|kilograms|fill_number|nominal_litres|wort_litres", WHOLE),
    (r"water\d_litres", WHOLE),
    (r"pot_ale_litres|spent_lees_litres", r"\d+\.0"),
    (r"pot_ale_percent|spent_lees_percent|nitrogen_percent", r"\d\.\d{1,2}"),
    (r"(label|target|mean_strength|cut_on|cut_off|husk|grits|flour|moisture)_percent|mean_fill_millilitres", ONE_PLACE),
    (r"grams_per_lpa|predicted_spirit_yield_lpa_per_tonne", ONE_PLACE),
    (r"run|transfer|reduction|regauge|bottling|removal|fermentation|mash", r"[A-Z]{2}\d{4}"),
    (r"cask|number", r"\d{4}/\d{4}"),
    (r"lot_code", r"L\d{5}"),
    (r"value", r"\d+\.\d+"),
)


def rows_of(folder: Path, table: str) -> list[dict[str, str]]:
    with (folder / f"{table}.csv").open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def examples() -> dict[str, list[dict[str, str]]]:
    text = (HERE / "harrowmere_rows.txt").read_text(encoding="utf-8").split("\n", 1)[1]
    blocks = re.findall(r"\[(\S+)\]\n(.*?)(?=^\[|\Z)", text, re.S | re.M)
    return {name: list(csv.DictReader(body.strip().splitlines())) for name, body in blocks}


def format_of(column: str) -> str | None:
    return next((form for pattern, form in FORMATS if re.fullmatch(pattern, column)), None)


def check_formats(table: str, rows: list[dict[str, str]]) -> int:
    checked = 0
    for row in rows:
        for column, cell in row.items():
            form = format_of(column)
            if form and cell and not (table == "plant/instruments" and column == "reference_celsius"):
                assert re.fullmatch(form, cell), f"{table}: {column} is written {cell}"
                checked += 1
    return checked


def gauges_by_vessel(month: Month) -> dict[str, list[tuple[str, int, Mapping[str, Any], str]]]:
    """Every gauge in order of time: when, 0 before and 1 after, the row and the prefix of its columns."""
    found: dict[str, list[tuple[str, int, Mapping[str, Any], str]]] = defaultdict(list)
    plant = month.plant
    for row in month.rows["opening_stock"]:
        found[row["vessel"]].append((row["at"], 1, row, "gauge"))
    for row in month.rows["stock_take"]:
        found[row["vessel"]].append((row["at"], 0, row, "gauge"))
    for row in month.rows["wash_runs"]:
        if "pot_ale_litres" in row:
            found[row["receiver"]].append((row["charged_at"], 0, row, "receiver_before"))
            found[row["receiver"]].append((row["ended_at"], 1, row, "receiver_after"))
    for row in month.rows["spirit_runs"]:
        for code, prefix in ((plant.low_wines, "low_wines"), (plant.feints, "feints")):
            found[code].append((row["charged_at"], 0, row, f"{prefix}_before"))
            found[code].append((row["charged_at"], 1, row, f"{prefix}_after"))
        for code, prefix in ((row["spirit_receiver"], "spirit"), (row["feints_receiver"], "feints_receiver")):
            found[code].append((row["ended_at"], 0, row, f"{prefix}_before"))
            found[code].append((row["ended_at"], 1, row, f"{prefix}_after"))
    for row in month.rows["third_still_runs"]:
        found[row["source"]].append((row["charged_at"], 0, row, "source_before"))
        found[row["source"]].append((row["charged_at"], 1, row, "source_after"))
        for code, prefix in ((row["product_vessel"], "product"), (plant.heads_and_tails, "heads_tails")):
            found[code].append((row["charged_at"], 0, row, f"{prefix}_before"))
            found[code].append((row["ended_at"], 1, row, f"{prefix}_after"))
    for row in month.rows["transfers"]:
        for end in ("from", "to"):
            found[row[f"{end}_vessel"]].append((row["at"], 0, row, f"{end}_before"))
            found[row[f"{end}_vessel"]].append((row["at"], 1, row, f"{end}_after"))
    once = {row["fill"]: row for row in month.rows["cask_fills"]}.values()
    for rows, vessel, prefix in (
        (month.rows["reductions"], "vessel", ""),
        (month.rows["bottlings"], "vat", "vat_"),
        (once, "vat", "vat_"),
    ):
        for row in rows:
            found[row[vessel]].append((row["at"], 0, row, f"{prefix}before"))
            found[row[vessel]].append((row["at"], 1, row, f"{prefix}after"))
    return {code: sorted(gauges, key=lambda gauge: gauge[:2]) for code, gauges in found.items()}


def read_back(table: Calibration, row: Mapping[str, Any], prefix: str) -> tuple[float, float]:
    """LPA of a gauge by its written readings, and its standard error."""
    dip, at, strength = (f"{prefix}_{name}" for name in ("dip_mm", "celsius", "hydrometer_percent"))
    if row[strength] is None:
        return 0.0, 0.0

    def measure(cells: Mapping[str, Any]) -> float:
        return alcohol_of(table, cells[dip], cells[at], cells[strength])

    fields = {dip: "dip", at: "celsius", strength: "hydrometer"}
    return measure(row), measure_error(Mark("", [dict(row)], "", "", 0, fields, measure))
