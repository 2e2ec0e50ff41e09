"""What the server says of itself: `/health/`, its log, slow pages and a clock that was set."""

from __future__ import annotations

import json
import logging
import shutil
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.conf import settings
from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory
from django.utils import timezone

from distillery.health import asked, clock_steps
from distillery.health.clock_steps import ClockKeeper
from distillery.health.log_file import keep_log
from distillery.health.slow_pages import NamesSlowPages

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _nothing_kept() -> Iterator[None]:
    yield
    clock_steps.newest.clear()
    asked.NEWEST_COPY.clear()


def said(status: int = 200) -> dict[str, Any]:
    answer = Client().get("/health/")
    assert answer.status_code == status, answer.content
    assert "no-store" in answer["Cache-Control"]
    return dict(answer.json())


def test_all_is_well_and_no_secret_is_told(django_assert_max_num_queries: Any) -> None:
    with django_assert_max_num_queries(1):
        told = said()
    assert told["ok"] is True
    assert told["database"] == {"ok": True}
    assert told["newest_copy"] == {"ok": True, "known": False}
    assert told["disk"]["free_mb"] > 0
    written = json.dumps(told)
    for secret in (settings.SECRET_KEY, str(settings.BASE_DIR), str(connection.settings_dict["NAME"]), "sqlite"):
        assert secret not in written


def test_a_database_that_cannot_be_read_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    def gone(*given: object, **more: object) -> None:
        raise DatabaseError("no such file: /secret/place")

    monkeypatch.setattr(connection, "cursor", gone)
    told = said(503)
    assert (told["ok"], told["database"]) == (False, {"ok": False})
    assert "secret" not in json.dumps(told)


@pytest.mark.parametrize(("hours", "well"), [(5, True), (47, True), (49, False), (None, False)])
def test_a_copy_that_is_old_or_missing_is_said(hours: int | None, well: bool) -> None:
    made = None if hours is None else timezone.now() - timedelta(hours=hours, minutes=1)
    asked.NEWEST_COPY.append(lambda: made)
    assert said(200 if well else 503)["newest_copy"] == {"ok": well, "known": True, "hours": hours}


def test_a_disk_with_little_room_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda place: SimpleNamespace(free=499_000_000))
    assert said(503)["disk"] == {"ok": False, "free_mb": 499}


def test_nothing_is_sent_there() -> None:
    assert Client().post("/health/").status_code == 405


class Clocks:
    """A wall's clock that can be set, and one that goes on."""

    def __init__(self) -> None:
        self.steady_s, self.ahead_s = 1000.0, 1_800_000_000.0

    def wall(self) -> float:
        return self.steady_s + self.ahead_s

    def steady(self) -> float:
        return self.steady_s


@pytest.mark.parametrize(
    ("by_s", "words"),
    [(-3600.0, "put back by 1 h"), (365 * 86_400.0, "put ahead by"), (-365 * 86_400.0, "put back by"), (3.0, "3 s")],
)
def test_a_clock_that_was_set_is_named(by_s: float, words: str, caplog: pytest.LogCaptureFixture) -> None:
    clocks = Clocks()
    keeper = ClockKeeper(wall=clocks.wall, steady=clocks.steady)
    clocks.steady_s += 10
    assert keeper.look() is None
    clocks.steady_s += 10
    clocks.ahead_s += by_s
    step = keeper.look()
    assert step is not None
    assert step.by_s == pytest.approx(by_s)
    assert words in step.in_words
    assert words in caplog.text
    clocks.steady_s += 10
    assert keeper.look() is None, "a step is said once"


def test_a_clock_that_is_put_right_slowly_is_no_step() -> None:
    clocks = Clocks()
    keeper = ClockKeeper(wall=clocks.wall, steady=clocks.steady)
    for _ in range(1000):
        clocks.steady_s += 10
        clocks.ahead_s -= 0.005
        assert keeper.look() is None


def test_a_step_stands_on_health_for_a_day() -> None:
    now = timezone.now().timestamp()
    clock_steps.newest[:] = [clock_steps.Step(-3600.4, now - 60)]
    assert said()["clock"] == {"set_by_seconds": -3600}
    clock_steps.newest[:] = [clock_steps.Step(-3600.4, now - 90_000)]
    assert said()["clock"] == {"set_by_seconds": 0}


def _page(request: HttpRequest) -> HttpResponse:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
        cursor.execute("SELECT 2")
    return HttpResponse(status=201)


def test_a_slow_page_is_named_without_what_was_looked_for(settings: Any, caplog: pytest.LogCaptureFixture) -> None:
    settings.SLOW_PAGE_MS = 1
    times = iter((0.0, 1.5))
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("distillery.health.slow_pages.time.perf_counter", lambda: next(times))
        answer = NamesSlowPages(_page)(RequestFactory().get("/find/a%0Ab/?q=private"))
    assert answer.status_code == 201
    assert [record.getMessage() for record in caplog.records] == [
        "Slow page: GET /find/a%0Ab/, 1500 ms, 2 queries, answer 201."
    ]


@pytest.mark.parametrize(("slow_ms", "took_s"), [(1000, 0.9), (0, 90.0)])
def test_a_quick_page_is_not_named(
    slow_ms: int, took_s: float, settings: Any, caplog: pytest.LogCaptureFixture
) -> None:
    settings.SLOW_PAGE_MS = slow_ms
    times = iter((0.0, took_s))
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("distillery.health.slow_pages.time.perf_counter", lambda: next(times))
        NamesSlowPages(_page)(RequestFactory().get("/"))
    assert caplog.records == []


@pytest.fixture
def root() -> Iterator[logging.Logger]:
    logger = logging.getLogger()
    before = list(logger.handlers)
    yield logger
    for handler in set(logger.handlers) - set(before):
        logger.removeHandler(handler)
        handler.close()


def test_the_log_is_bounded_and_its_owner_s(root: logging.Logger, tmp_path: Path) -> None:
    folder = tmp_path / "log"
    keep_log(folder, "site")
    line = "x" * 100_000
    for _ in range(150):
        root.warning(line)
    files = sorted(file.name for file in folder.iterdir())
    assert files == ["site.log", *(f"site.log.{number}" for number in range(1, 6))]
    assert sum(file.stat().st_size for file in folder.iterdir()) <= 6 * 2_000_000
    assert folder.stat().st_mode & 0o077 == 0


def test_a_refusal_is_one_line_and_a_fault_has_its_traceback(root: logging.Logger, tmp_path: Path) -> None:
    keep_log(tmp_path, "site")
    try:
        raise ValueError("planted")
    except ValueError:
        root.warning("Forbidden: /", extra={"status_code": 403}, exc_info=True)
        root.error("Internal Server Error: /", extra={"status_code": 500}, exc_info=True)
    lines = (tmp_path / "site.log").read_text(encoding="utf-8").splitlines()
    assert lines[0].endswith("WARNING root: Forbidden: /")
    assert lines[1].endswith("ERROR root: Internal Server Error: /")
    assert lines[-1] == "ValueError: planted"


def test_a_folder_that_cannot_be_written_keeps_nobody_from_serving(
    root: logging.Logger, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    (tmp_path / "file").write_text("", encoding="ascii")
    keep_log(tmp_path / "file", "site")
    assert "No log is kept" in caplog.text
