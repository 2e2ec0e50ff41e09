"""The process beside the server: told of work, doing it once, starting again, ending with the server."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.http import HttpRequest, HttpResponse

from distillery import afterwards as after
from distillery.management import beside
from tests.running_site import ROOT, environment

LONGEST_S = 30.0
done: list[tuple[str, ...]] = []


def work(*given: str) -> None:
    """Work of these tests."""
    done.append(given)


def broken() -> None:
    """Work that fails."""
    raise ZeroDivisionError


@pytest.fixture(autouse=True)
def _nothing_done(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(after, "close_old_connections", lambda: None)
    done.clear()
    yield
    after.beside.clear()


def answered(ask: Any) -> None:
    """An answer is made in which work is asked for, and handed over."""

    def view(request: HttpRequest) -> HttpResponse:
        ask()
        return HttpResponse()

    after.Answering(view)(HttpRequest())
    after._do()


class TestWhoDoesIt:
    def test_the_other_process_where_there_is_one(self) -> None:
        told: list[after.Work] = []
        after.beside.append(lambda one: told.append(one) is None)
        answered(lambda: after.afterwards(work, "2027-03"))
        assert told == [after.Work(work, ("2027-03",))]
        assert done == []

    def test_whoever_answered_where_the_other_is_not_there(self) -> None:
        after.beside.append(lambda one: False)
        answered(lambda: after.afterwards(work, "2027-03"))
        assert done == [("2027-03",)]

    def test_nobody_else_where_no_answer_is_being_made(self) -> None:
        after.beside.append(lambda one: True)
        assert not after.done_beside()
        after.afterwards(work, "2027-03")
        assert done == [("2027-03",)]


@pytest.mark.django_db
class TestDoingWhatIsAsked:
    def lines(self, *asked: tuple[str, ...]) -> bytes:
        return b"".join(json.dumps([__name__, *one]).encode() + b"\n" for one in asked)

    def do(self, text: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(beside.connection, "close", lambda: None)
        reads, writes = os.pipe()
        os.write(writes, text)
        os.close(writes)
        beside.do_what_is_asked(reads)
        os.close(reads)

    def test_what_is_asked_for_several_times_meanwhile_is_done_once(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.do(self.lines(("work", "2027-03"), ("work", "2027-04"), ("work", "2027-03")), monkeypatch)
        assert done == [("2027-03",), ("2027-04",)]

    def test_what_fails_keeps_nothing_else_from_being_done(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.do(self.lines(("broken",), ("work",)), monkeypatch)
        assert done == [()]

    def test_half_a_line_waits_for_its_other_half(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(beside.connection, "close", lambda: None)
        reads, writes = os.pipe()
        text = self.lines(("work", "2027-03"))
        reader = threading.Thread(target=beside.do_what_is_asked, args=(reads,))
        os.write(writes, text[:10])
        reader.start()
        time.sleep(0.05)
        os.write(writes, text[10:])
        os.close(writes)
        reader.join(LONGEST_S)
        os.close(reads)
        assert done == [("2027-03",)]


def children_of(pid: int) -> list[int]:
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            parent = (folder / "stat").read_text().rpartition(")")[2].split()[1]
        except OSError:
            continue
        if int(parent) == pid:
            found.append(int(folder.name))
    return found


def until(there: Any) -> None:
    deadline = time.monotonic() + LONGEST_S
    while not there() and time.monotonic() < deadline:
        time.sleep(0.05)
    assert there()


class TestTheProcess:
    @pytest.fixture
    def there(self) -> Iterator[beside.Beside]:
        one = beside.Beside()
        yield one
        one.end()

    def test_it_ends_when_it_is_let_go(self, there: beside.Beside) -> None:
        assert there.tell(after.Work(time.sleep, ()))
        [child] = [one for one in children_of(os.getpid()) if _is_beside(one)]
        there.end()
        assert not Path(f"/proc/{child}").exists()

    def test_one_that_was_killed_is_not_there_and_is_started_again_later(
        self, there: beside.Beside, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        assert there.tell(after.Work(time.sleep, ()))
        assert there._process is not None
        there._process.kill()
        there._process.wait()
        assert not there.tell(after.Work(time.sleep, ())), "whoever answered does it"
        monkeypatch.setattr(beside, "SECONDS_BETWEEN_STARTS", 0.0)
        assert there.tell(after.Work(time.sleep, ()))

    def test_it_ends_with_a_server_that_is_killed(self) -> None:
        one = subprocess.Popen(
            [sys.executable, "-c", STARTS_AND_WAITS],
            env=environment(os.environ.get("DATABASE_URL", "sqlite:///:memory:")),
            cwd=ROOT,
            stdout=subprocess.PIPE,
            text=True,
        )
        assert one.stdout is not None
        child = int(one.stdout.readline())
        assert Path(f"/proc/{child}").exists()
        one.kill()
        one.wait()
        one.stdout.close()
        until(lambda: not Path(f"/proc/{child}").exists() or _is_dead(child))


STARTS_AND_WAITS = """
import os, time
os.environ["DJANGO_SETTINGS_MODULE"] = "distillery.settings"
import django
django.setup()
from distillery.afterwards import Work
from distillery.management.beside import Beside
there = Beside()
assert there.tell(Work(time.sleep, ()))
print(there._process.pid, flush=True)
time.sleep(60)
"""


def _is_beside(pid: int) -> bool:
    return beside.COMMAND in Path(f"/proc/{pid}/cmdline").read_text()


def _is_dead(pid: int) -> bool:
    """Ended, and waiting for somebody to take notice of it."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z"
    except OSError:
        return True
