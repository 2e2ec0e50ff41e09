"""Work that no answer waits for: after the answer, once, in its thread; at once where nobody waits."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest
from django.core.signals import request_finished
from django.db import OperationalError, close_old_connections
from django.http import HttpRequest, HttpResponse

from distillery.afterwards import Answering, afterwards

# The end of a request closes connections to the database, but not those that a test holds.
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _connections_left_alone(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """As Django's own test client does: what other tests have open is not looked at when an answer is finished."""
    monkeypatch.setattr("distillery.afterwards.close_old_connections", lambda: None)
    request_finished.disconnect(close_old_connections)
    yield
    request_finished.connect(close_old_connections)


class Work:
    def __init__(self) -> None:
        self.done: list[str] = []

    def one(self) -> None:
        self.done.append("one")

    def two(self) -> None:
        self.done.append("two")


def answer(work: Work) -> HttpResponse:
    def view(request: HttpRequest) -> HttpResponse:
        for _ in range(2):
            afterwards(work.one)
            afterwards(work.two)
        assert work.done == [], "the answer is made first"
        return HttpResponse("saved")

    answered = Answering(view)(HttpRequest())
    assert isinstance(answered, HttpResponse)
    return answered


def test_what_fails_after_the_answer_spoils_no_answer_and_no_other_work(caplog: pytest.LogCaptureFixture) -> None:
    """The database went away between the saving and what follows it: what was saved is answered as saved."""
    done: list[str] = []

    def fails() -> None:
        raise OperationalError("server closed the connection unexpectedly")

    def view(request: HttpRequest) -> HttpResponse:
        afterwards(fails)
        afterwards(lambda: done.append("the other"))
        return HttpResponse("saved")

    answered = Answering(view)(HttpRequest())
    assert isinstance(answered, HttpResponse)
    answered.close()
    assert done == ["the other"]
    assert "is done with the next: fails" in caplog.text


def test_it_is_done_once_after_the_answer_is_handed_over() -> None:
    work = Work()
    answered = answer(work)
    assert work.done == []
    answered.close()
    assert work.done == ["one", "two"]
    request_finished.send(sender=None)
    assert work.done == ["one", "two"]


def test_where_nobody_waits_it_is_done_at_once() -> None:
    work = Work()
    afterwards(work.one)
    assert work.done == ["one"]


def test_a_view_that_fails_does_not_keep_the_next_from_doing_its_work_at_once() -> None:
    work = Work()

    def fails(request: HttpRequest) -> HttpResponse:
        afterwards(work.one)
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        Answering(fails)(HttpRequest())
    afterwards(work.two)
    assert work.done == ["two"]
    request_finished.send(sender=None)
    assert work.done == ["two", "one"]


def test_threads_do_not_share_it() -> None:
    work, other = Work(), Work()
    answered = answer(work)
    thread = threading.Thread(target=lambda: answer(other).close())
    thread.start()
    thread.join()
    assert (work.done, other.done) == ([], ["one", "two"])
    answered.close()
    assert work.done == ["one", "two"]
