"""Short versions of what is run at length by hand: eight clients at once, and a server killed while people write."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.running_site import ROOT

LONGEST_S = 240


def run(name: str, *options: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", f"tests.faults.{name}", *options],
        cwd=ROOT,
        env=os.environ,
        capture_output=True,
        text=True,
        timeout=LONGEST_S,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_eight_clients_at_once_see_no_error_and_lose_nothing() -> None:
    assert "movements acknowledged to 8 clients in 5 s" in run("eight_clients", "--seconds", "5")


def test_a_server_killed_while_people_write_has_lost_nothing() -> None:
    assert run("killing", "--kills", "4", "--seed", "3").startswith("4 kills, ")


def test_busy_books_keep_the_sheet_which_is_saved_afterwards_once() -> None:
    run("busy_books")


@pytest.mark.slow
def test_eight_clients_for_a_minute() -> None:
    run("eight_clients", "--seconds", "60")


@pytest.mark.slow
def test_a_server_killed_fifty_times() -> None:
    run("killing", "--kills", "50")
