"""A command that prints nothing and compares nothing starts without the large libraries that do."""

from __future__ import annotations

import subprocess
import sys

from tests.running_site import ROOT, environment

LARGE = ("numpy", "openpyxl", "reportlab")


def test_the_program_is_set_up_without_the_large_libraries() -> None:
    script = f"import django, sys; django.setup(); print([name for name in {LARGE} if name in sys.modules])"
    started = subprocess.run(
        [sys.executable, "-c", script],
        cwd=ROOT,
        env=environment("sqlite:///:memory:", DJANGO_SETTINGS_MODULE="distillery.settings"),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert started.stdout.strip() == "[]", started.stdout + started.stderr
