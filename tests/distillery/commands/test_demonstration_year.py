"""The year of the demonstration as `demo` loads it: which months are left, and what is shown meanwhile."""

from __future__ import annotations

import pytest
from django.http import HttpResponse
from django.test import RequestFactory

from distillery.management import loading_beside
from distillery.management.demonstration_year import HowFar, folders, load_months, months_left
from distillery.management.loading_beside import SaysWhatIsLoaded


class _Goes:
    """A loading that is where it is told to be."""

    def __init__(self, far: HowFar | None, *, over: bool = False, fault: str = "") -> None:
        self.far, self.is_over, self.fault = far, over, fault


def test_how_far_it_is_is_said_in_a_sentence() -> None:
    far = HowFar("2026-08", 5, 12, 40, 200)
    assert far.sentence == "August 2026, month 5 of 12: entry 40 of 200."
    assert far.parts == (420, 1200)
    assert HowFar(**far.as_data()) == far
    assert HowFar("2026-04", 1, 12).sentence == "April 2026, month 1 of 12."


def _answer(monkeypatch: pytest.MonkeyPatch, loading: _Goes | None, method: str = "GET") -> tuple[int, str]:
    monkeypatch.setattr(loading_beside, "_going_on", [loading] if loading else [])
    page = SaysWhatIsLoaded(lambda request: HttpResponse("the site"))(RequestFactory().generic(method, "/books/"))
    return page.status_code, page.content.decode()


def test_every_address_says_how_far_it_is_until_it_is_done(monkeypatch: pytest.MonkeyPatch) -> None:
    status, text = _answer(monkeypatch, _Goes(HowFar("2026-08", 5, 12, 40, 200)))
    assert status == 200
    assert "August 2026, month 5 of 12: entry 40 of 200." in text
    assert 'value="420" max="1200"' in text
    assert 'http-equiv="refresh"' in text
    assert _answer(monkeypatch, _Goes(None), "POST")[0] == 503
    assert _answer(monkeypatch, _Goes(None, over=True)) == (200, "the site")
    assert _answer(monkeypatch, None) == (200, "the site")


@pytest.mark.parametrize(("chosen", "stands"), [("night", "night"), ("day", "day"), ("noon", "day")])
def test_it_stands_as_this_pc_chose(monkeypatch: pytest.MonkeyPatch, chosen: str, stands: str) -> None:
    """Nobody is kept looking at a bright page at night while it loads."""
    monkeypatch.setattr(loading_beside, "_going_on", [_Goes(None)])
    request = RequestFactory().get("/")
    request.COOKIES["theme"] = chosen
    page = SaysWhatIsLoaded(lambda request: HttpResponse())(request)
    assert f'<html lang="en-GB" class="{stands}">' in page.content.decode()


def test_a_loading_that_failed_says_why_and_asks_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    _, text = _answer(monkeypatch, _Goes(None, fault="12 bad rows"))
    assert "12 bad rows" in text
    assert "was not loaded" in text
    assert 'http-equiv="refresh"' not in text


@pytest.mark.django_db
def test_all_months_are_left_of_empty_books() -> None:
    assert months_left() == folders()
    assert [folder.name for folder in folders()][::11] == ["2026-04", "2027-03"]


def test_the_month_by_itself_is_another_demonstration(loaded_month: object) -> None:
    """Of books with the sample month in them nothing of the year is left, and nothing is loaded into them."""
    told: list[HowFar] = []
    assert months_left() == []
    load_months(told.append)
    assert told == []
