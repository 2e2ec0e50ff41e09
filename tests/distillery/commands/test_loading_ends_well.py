"""The process that loads the demonstration ends as it should while its server still holds its input open."""

from __future__ import annotations

import os
import subprocess
import sys

from tests.running_site import ROOT

SCRIPT = """
import time, django
django.setup()
from distillery.management.commands import load_demonstration
load_demonstration.load_months = lambda tell: time.sleep(0.3)
load_demonstration.Command().handle()
"""


def test_it_ends_without_a_fault_when_everything_is_loaded() -> None:
    told = {**os.environ, "DJANGO_SETTINGS_MODULE": "distillery.settings", "DATABASE_URL": "sqlite://:memory:"}
    process = subprocess.Popen(
        [sys.executable, "-c", SCRIPT], cwd=ROOT, env=told, stdin=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert process.stdin is not None
    assert process.stderr is not None
    try:
        # Its input stays open until it has ended by itself.
        ended, said = process.wait(60), process.stderr.read()
    finally:
        process.kill()
        process.stdin.close()
    assert (ended, "Fatal Python error" in said) == (0, False), said
