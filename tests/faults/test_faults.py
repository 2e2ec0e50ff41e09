"""Short versions of what is run at length by hand: eight clients at once, and a server killed while people write."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.faults.scratch import BEGIN_WITH
from tests.running_site import ROOT

LONGEST_S = 240
pytestmark = pytest.mark.faults


def run(migrated: str, name: str, *options: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", f"tests.faults.{name}", *options],
        cwd=ROOT,
        env={**os.environ, BEGIN_WITH: migrated},
        capture_output=True,
        text=True,
        timeout=LONGEST_S,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.mark.long
def test_eight_clients_at_once_see_no_error_and_lose_nothing(migrated_original: str) -> None:
    assert "movements acknowledged to 8 clients in 5 s" in run(migrated_original, "eight_clients", "--seconds", "5")


@pytest.mark.long
def test_a_server_killed_while_people_write_has_lost_nothing(migrated_original: str) -> None:
    assert run(migrated_original, "killing", "--kills", "4", "--seed", "3").startswith("4 kills, ")


@pytest.mark.long
def test_busy_books_keep_the_sheet_which_is_saved_afterwards_once(migrated_original: str) -> None:
    run(migrated_original, "busy_books")


def test_connections_that_dawdle_hold_no_page(migrated_original: str) -> None:
    assert "pages beside 240 dawdling connections" in run(migrated_original, "half_open", "--seconds", "2")


@pytest.mark.long
def test_copies_taken_while_people_write_are_those_of_a_moment(migrated_original: str) -> None:
    assert run(migrated_original, "copying", "--copies", "1", "--clients", "3").startswith("1 copies put back, ")


# One engine is enough: the waits are the same, and the other script has a cluster of its own.
@pytest.mark.sqlite
@pytest.mark.long
def test_who_guesses_waits_and_a_colleague_signs_on(migrated_original: str) -> None:
    assert run(migrated_original, "guessing", "--guesses", "12").startswith("12 wrong passwords from one PC took ")


@pytest.mark.sqlite
@pytest.mark.long
def test_a_database_that_is_restarted_while_people_write_has_lost_nothing(migrated_original: str) -> None:
    assert run(migrated_original, "restarting", "--times", "2").startswith("2 restarts, ")


@pytest.mark.slow
def test_fifty_guesses_take_over_an_hour(migrated_original: str) -> None:
    run(migrated_original, "guessing", "--guesses", "50")


@pytest.mark.browser
@pytest.mark.long
def test_a_power_cut_in_the_middle_of_an_entry_loses_the_last_box_at_most(
    migrated_original: str, chromium: str
) -> None:
    assert run(migrated_original, "power_cut", "--cuts", "3", "--seed", "2").startswith("3 cuts: ")


@pytest.mark.slow
def test_eight_clients_for_a_minute(migrated_original: str) -> None:
    run(migrated_original, "eight_clients", "--seconds", "60")


@pytest.mark.slow
def test_a_server_killed_fifty_times(migrated_original: str) -> None:
    run(migrated_original, "killing", "--kills", "50")


@pytest.mark.slow
def test_a_clock_that_is_set_is_named_and_misdates_nothing(migrated_original: str) -> None:
    assert run(migrated_original, "clock_set").startswith("6 steps of the clock, 5 movements acknowledged.")


@pytest.mark.slow
def test_uploads_that_arrive_half_leave_nothing(migrated_original: str) -> None:
    assert run(migrated_original, "half_upload", "--uploads", "30").startswith("20 uploads broken off, 10 cut")


@pytest.mark.sqlite
@pytest.mark.slow
def test_a_full_disk_is_said_and_the_sheet_saved_once_there_is_room(migrated_original: str) -> None:
    assert "2 times the disk was full" in run(migrated_original, "full_disk")
