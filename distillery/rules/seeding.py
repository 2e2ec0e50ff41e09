"""The figures a new site starts with, each with its source, as numbered migrations put them in.

`data/0002/` holds what the migration 0002 puts in, `data/0003/` what 0003 does, and so on: a file for each table,
named as its model, with the columns and whole numbers of the table as it was then. A folder is never edited once
released (tests hold its digests), because sites have its rows already: what changes is a new folder and a migration of
the same number, with the new rows alone. A site's own dated rows are added by `distillery.rules.setting.figures`.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from django.apps.registry import Apps
from django.db import models

DATA: Final = Path(__file__).parent / "data"


def put_in(number: str, apps: Apps, using: str) -> None:
    """Puts the rows of one numbered folder into the tables of `apps`; a row that is there already is passed over."""
    known = {model._meta.model_name: model for model in apps.get_app_config("rules").get_models()}
    for file in sorted((DATA / number).glob("*.csv")):
        model = known[file.stem.replace("_", "")]
        rows = model._default_manager.using(using)
        with file.open(encoding="utf-8", newline="") as table:
            for line in csv.DictReader(table):
                row = _values(model, line)
                if not rows.filter(**_itself(model, row)).exists():
                    rows.create(**row)


def _values(model: type[models.Model], line: Mapping[str, str]) -> dict[str, Any]:
    """The cells of a line as values of the table; a blank cell is null where the column may be."""
    values = {}
    for name, text in line.items():
        column = model._meta.get_field(name)
        values[name] = None if not text and column.null else column.to_python(text)  # type: ignore[union-attr]
    return values


def _itself(model: type[models.Model], row: Mapping[str, Any]) -> dict[str, Any]:
    """What tells a row from others: the column that may hold a value once, or else all that it says."""
    once = {field.name for field in model._meta.concrete_fields if field.unique and not field.primary_key}
    return {
        (f"{name}__isnull" if value is None else name): (True if value is None else value)
        for name, value in row.items()
        if not once or name in once
    }
