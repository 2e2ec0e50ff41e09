"""Starting the process that does long work: by the process that serves alone, one at a time, whatever fails."""

from __future__ import annotations

import subprocess
import sys

import pytest

from distillery.jobs import asking, starting
from distillery.jobs.files import folder

pytestmark = pytest.mark.django_db


class Started:
    """A process that only seems to be one."""

    def __init__(self, command: list[str], **more: object) -> None:
        self.command, self.more = command, more
        self.ended: int | None = None

    def poll(self) -> int | None:
        return self.ended


@pytest.fixture
def processes(monkeypatch, settings) -> list[Started]:
    made: list[Started] = []

    def make(command: list[str], **more: object) -> Started:
        made.append(Started(command, **more))
        return made[-1]

    settings.STARTS_LONG_WORK = True
    monkeypatch.setattr(starting, "_started", [])
    monkeypatch.setattr(subprocess, "Popen", make)
    return made


def asked() -> None:
    asking.ask("export", {"movements": 1, "seal": ""})


def test_none_is_started_where_nothing_waits(processes: list[Started]) -> None:
    assert not starting.start()
    assert processes == []


def test_a_command_starts_none(processes: list[Started], settings) -> None:
    settings.STARTS_LONG_WORK = False
    asked()
    assert not starting.start()
    assert processes == []


def test_one_is_started_apart_and_no_second_before_it_ends(processes: list[Started]) -> None:
    asked()
    assert starting.start()
    assert not starting.start()
    [process] = processes
    assert process.command[0] == sys.executable
    assert process.command[-1] == "work"
    assert process.more["close_fds"] is True
    assert process.more["stdin"] == subprocess.DEVNULL
    assert process.more.get("start_new_session") or process.more.get("creationflags")
    process.ended = 0
    assert starting.start()


def test_what_it_writes_is_kept_within_bounds(processes: list[Started], monkeypatch) -> None:
    log = folder() / starting.LOG
    log.write_bytes(b"x" * 20)
    asked()
    starting.start()
    assert log.stat().st_size == 20
    processes[0].ended = 1
    monkeypatch.setattr(starting, "LARGEST_LOG", 19)
    starting.start()
    assert log.stat().st_size == 0


def test_a_computer_that_starts_none_is_no_fault_of_the_page(processes: list[Started], monkeypatch, caplog) -> None:
    def refuse(command: list[str], **more: object) -> Started:
        raise BlockingIOError(11, "Resource temporarily unavailable")

    monkeypatch.setattr(subprocess, "Popen", refuse)
    asked()
    assert not starting.start()
    assert "No process could be started for long work" in caplog.text
