"""Vessels, casks, instruments and all that is known of them are written by `distillery/plant/keeping` alone."""

from __future__ import annotations

import re
from pathlib import Path

from django.apps import apps

ROOT = Path(__file__).resolve().parents[3]
WRITER = ROOT / "distillery" / "plant" / "keeping"
WAYS = r"(bulk_create|bulk_update|create|get_or_create|update_or_create|update|delete)"


def test_nothing_else_writes_the_plant() -> None:
    models = "|".join(model.__name__ for model in apps.get_app_config("plant").get_models())
    by_class = re.compile(rf"\b({models})\.(objects|_default_manager)\b[^\n]*\.{WAYS}\(")
    by_row = re.compile(r"\b(vessel|cask|instrument|certificate|recipe|calibration|obscuration)\.(save|delete)\(")
    found = [
        f"{file.relative_to(ROOT)}: {line.strip()}"
        for floor in ("distillery", "ledger", "batches")
        for file in sorted((ROOT / floor).rglob("*.py"))
        if WRITER not in file.parents
        for line in file.read_text(encoding="utf-8").splitlines()
        if by_class.search(line) or by_row.search(line)
    ]
    assert found == []
