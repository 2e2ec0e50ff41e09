"""A busy database is tried again, a bounded number of times; a refusal is not, nor what stands in a larger transaction.

The codes are those of sqlite.org/rescode.html (BUSY 5, LOCKED 6) and PostgreSQL's documentation, appendix A.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from types import SimpleNamespace

import psycopg.errors
import pytest
from django.db import DatabaseError, IntegrityError, OperationalError, transaction
from django.http import HttpRequest, HttpResponse
from django.test import RequestFactory

from distillery import refusing
from distillery.database import retrying
from distillery.database.retrying import Busy, is_away, is_busy, retried
from distillery.refusing import OutsideErrors


@pytest.fixture(autouse=True)
def waits(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Nobody waits in these tests; how long they would have is kept."""
    waited: list[float] = []
    # The name in this module alone: threads of the test runner sleep and read the clock too.
    monkeypatch.setattr(retrying, "time", SimpleNamespace(monotonic=time.monotonic, sleep=waited.append))
    return waited


def said(cause: Exception, kind: type[DatabaseError] = OperationalError) -> DatabaseError:
    """What Django raises for what an engine's driver says."""
    error = kind(str(cause))
    error.__cause__ = cause
    return error


def locked_out(tmp_path: Path) -> sqlite3.OperationalError:
    """What SQLite really says to a second writer."""
    file = tmp_path / "two.sqlite3"
    with closing(sqlite3.connect(file, isolation_level=None)) as one:
        one.execute("BEGIN IMMEDIATE")
        with (
            closing(sqlite3.connect(file, isolation_level=None, timeout=0)) as two,
            pytest.raises(sqlite3.OperationalError) as found,
        ):
            two.execute("BEGIN IMMEDIATE")
    return found.value


def failing(times: int, error: Exception) -> Callable[[], str]:
    left: Iterator[int] = iter(range(times))

    @retried
    def write() -> str:
        if next(left, None) is not None:
            raise error
        return "written"

    return write


def test_what_both_engines_say_of_being_busy_is_known(tmp_path: Path) -> None:
    assert is_busy(said(locked_out(tmp_path)))
    for state in (
        psycopg.errors.SerializationFailure(),
        psycopg.errors.DeadlockDetected(),
        psycopg.errors.LockNotAvailable(),
    ):
        assert is_busy(said(state))


def test_what_is_wrong_in_itself_is_not_called_busy(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "one.sqlite3")) as one, pytest.raises(sqlite3.Error) as found:
        one.execute("SELECT * FROM nothing")
    assert not is_busy(said(found.value))
    assert not is_busy(said(psycopg.errors.UniqueViolation(), IntegrityError))
    assert not is_busy(said(psycopg.errors.AdminShutdown()))
    assert not is_busy(OperationalError("of no engine"))


def test_a_busy_database_is_tried_again_after_longer_and_longer_waits(waits: list[float]) -> None:
    assert failing(4, said(psycopg.errors.DeadlockDetected()))() == "written"
    assert len(waits) == 4
    for number, waited in enumerate(waits):
        longest = retrying.FIRST_WAIT_S * 2**number
        assert longest / 2 <= waited <= longest


def test_after_the_bound_it_says_in_a_sentence_that_nothing_was_saved(waits: list[float]) -> None:
    with pytest.raises(Busy, match="nothing was saved; press Save again") as found:
        failing(retrying.ATTEMPTS, said(psycopg.errors.SerializationFailure()))()
    assert isinstance(found.value.__cause__, OperationalError)
    assert len(waits) == retrying.ATTEMPTS - 1


def test_time_is_a_bound_too(monkeypatch: pytest.MonkeyPatch, waits: list[float]) -> None:
    clock = iter((0.0, retrying.LONGEST_S + 1))
    monkeypatch.setattr(retrying, "time", SimpleNamespace(monotonic=lambda: next(clock), sleep=waits.append))
    with pytest.raises(Busy):
        failing(2, said(psycopg.errors.LockNotAvailable()))()
    assert waits == []


@pytest.mark.parametrize("refusal", [ValueError("no"), said(psycopg.errors.UniqueViolation(), IntegrityError)])
def test_a_refusal_is_never_tried_again(refusal: Exception, waits: list[float]) -> None:
    with pytest.raises(type(refusal)):
        failing(1, refusal)()
    assert waits == []


def test_inside_a_larger_transaction_only_its_owner_may_begin_again(db: None, waits: list[float]) -> None:
    with transaction.atomic(), pytest.raises(OperationalError):
        failing(1, said(psycopg.errors.DeadlockDetected()))()
    assert waits == []


def test_a_page_without_a_form_says_it_too(db: None, stranger: object) -> None:
    from django.contrib.auth.models import AnonymousUser

    request = HttpRequest()
    request.user = AnonymousUser()
    page = OutsideErrors(lambda asked: HttpResponse("as it is"))
    assert page(request).content == b"as it is"
    for error in (Busy(), said(psycopg.errors.DeadlockDetected())):
        answer = page.process_exception(request, error)
        assert answer is not None
        assert answer.status_code == 503
        assert "The books are busy; nothing was saved" in answer.content.decode()
    assert page.process_exception(request, ValueError("no")) is None


@pytest.mark.parametrize(
    ("cause", "away"),
    [
        (psycopg.OperationalError("server closed the connection unexpectedly"), True),
        (psycopg.errors.AdminShutdown("terminating connection"), True),
        (psycopg.errors.CannotConnectNow("the database system is starting up"), True),
        (psycopg.errors.LockNotAvailable("canceling statement"), False),
        (psycopg.errors.DiskFull("no space left"), False),
    ],
)
def test_a_database_that_is_not_there_is_told_from_one_that_refuses(cause: Exception, away: bool) -> None:
    assert is_away(said(cause)) is away


def test_a_database_that_went_away_has_a_page_that_asks_it_nothing(
    rf: RequestFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    gone = said(psycopg.OperationalError("server closed the connection unexpectedly"))

    def fails(*given: object) -> None:
        raise gone

    monkeypatch.setattr(refusing, "typed_on", fails)
    answer = refusing.outside(rf.post("/records/transfer/new/", {"at": "now"}), gone)
    assert answer is not None
    assert answer.status_code == 503
    assert "a sheet that was kept already is not kept twice" in answer.content.decode()
