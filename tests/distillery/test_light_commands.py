"""Commands that show no page and compare no month start without the libraries that only pages and comparing need."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.running_site import ROOT, environment

HEAVY = ("numpy", "reportlab", "openpyxl", "django_tables2", "PIL", "waitress", "ninja", "pydantic")
# What manage.py does, and then which of the libraries are there.
STARTS = """
import os, sys
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "distillery.settings")
from distillery.starting.ending import run_command
try:
    sys.exit(run_command(["manage.py", *sys.argv[1:]]))
finally:
    # Help ends the process by itself.
    print("heavy:", *(name for name in {heavy!r} if name in sys.modules))
"""


@pytest.mark.parametrize("command", ["person", "backup", "restore", "work", "migrate"])
def test_a_command_is_asked_about_without_what_only_pages_need(command: str) -> None:
    assert _heavy_after(command, "--help") == ""


def test_the_pages_are_checked_without_the_statistics() -> None:
    """All routes and views are loaded, and nothing is compared."""
    assert "numpy" not in _heavy_after("check")


def _heavy_after(*command: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", STARTS.format(heavy=HEAVY), *command],
        cwd=ROOT,
        env=environment("sqlite:///:memory:"),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()[-1].removeprefix("heavy:").strip()
