"""Writers of one process come in the order in which they waited; nobody waits for themselves or for ever."""

from __future__ import annotations

import threading
import time
from types import SimpleNamespace

import pytest

from distillery.database import in_line
from distillery.database.in_line import Line
from distillery.seals.writing import written_by
from ledger.posting.turns import turn

LONGEST_S = 20.0


def _until(line: Line, waiting: int) -> None:
    end = time.monotonic() + LONGEST_S
    while len(line._waiting) < waiting and time.monotonic() < end:
        time.sleep(0.001)
    assert len(line._waiting) == waiting


def test_whoever_came_first_is_first() -> None:
    line, served = Line(), []
    assert line.come(0)

    def write(number: int) -> None:
        assert line.come(LONGEST_S)
        assert line.is_mine
        served.append(number)
        line.go()

    threads = [threading.Thread(target=write, args=(number,)) for number in range(8)]
    for number, thread in enumerate(threads):
        thread.start()
        _until(line, number + 1)
    line.go()
    for thread in threads:
        thread.join(LONGEST_S)
    assert served == list(range(8))
    assert line.come(0), "nobody has the turn once all have gone"


def test_whoever_has_no_turn_in_time_has_left_the_line() -> None:
    line = Line()
    assert line.come(0)
    gave_up: list[bool] = []
    thread = threading.Thread(target=lambda: gave_up.append(not line.come(0.01)))
    thread.start()
    thread.join(LONGEST_S)
    assert gave_up == [True]
    assert line.is_mine
    line.go()
    assert line.come(0)


@pytest.mark.django_db
@pytest.mark.parametrize("writing", [turn, written_by])
def test_writing_waits_in_line_on_sqlite_alone(writing: type, monkeypatch: pytest.MonkeyPatch) -> None:
    line = Line()
    monkeypatch.setattr(in_line, "LINE", line)
    for vendor, waits in (("sqlite", True), ("postgresql", False)):
        monkeypatch.setattr(in_line, "connection", SimpleNamespace(vendor=vendor, in_atomic_block=False))
        with writing(None, "tried"):
            assert line.is_mine is waits
            with writing(None, "inside"):
                assert line.is_mine is waits, "nobody waits for themselves"
        assert line.come(0), "the turn is left to others at the end"
        line.go()


@pytest.mark.django_db
def test_nobody_waits_inside_a_transaction_that_has_the_lock_already(monkeypatch: pytest.MonkeyPatch) -> None:
    line = Line()
    monkeypatch.setattr(in_line, "LINE", line)
    monkeypatch.setattr(in_line, "connection", SimpleNamespace(vendor="sqlite", in_atomic_block=True))
    with written_by(None, "tried"):
        assert not line.is_mine
