"""Day, night and densities: kept in cookies of the PC, never in the books, and the page that was open comes again."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from distillery.people.models import Person

pytestmark = pytest.mark.django_db


def test_night_is_a_choice_of_the_pc_and_keeps_the_page(browser_of: Callable[..., Client], staff: Person) -> None:
    browser = Client()
    assert '<html lang="en-GB" class="day">' in browser.get("/sign-on/").content.decode()
    answer = browser.post("/screen/", {"theme": "night", "page": "/sign-on/?next=/plant/"})
    assert (answer.status_code, answer["Location"]) == (302, "/sign-on/?next=/plant/")
    cookie = answer.cookies["theme"]
    assert (cookie.value, cookie["httponly"], cookie["samesite"]) == ("night", True, "Lax")
    assert '<html lang="en-GB" class="night">' in browser.get("/sign-on/").content.decode()
    signed_on = browser_of(staff)
    signed_on.cookies["theme"] = "night"
    assert 'value="night" aria-pressed="true"' in signed_on.get("/").content.decode()


def test_a_density_is_kept_for_its_area_alone(browser_of: Callable[..., Client], staff: Person) -> None:
    browser = browser_of(staff)
    assert '<body class="wet-hands">' in browser.get("/").content.decode()
    assert browser.post("/screen/", {"area": "shift", "density": "desk", "page": "/"}).status_code == 302
    assert '<body class="desk">' in browser.get("/").content.decode()
    assert '<body class="paper">' in browser.get("/books/").content.decode()


@pytest.mark.parametrize("asked", [{"theme": "dusk"}, {"area": "books", "density": "wet-hands"}, {}])
def test_what_is_not_offered_is_not_kept(asked: dict[str, str]) -> None:
    answer = Client().post("/screen/", {**asked, "page": "/"})
    assert answer.status_code == 400
    assert not answer.cookies


@pytest.mark.parametrize("page", ["https://elsewhere.invalid/", "//elsewhere.invalid/", "", "javascript:alert(1)"])
def test_the_way_back_stays_on_this_site(page: str) -> None:
    assert Client().post("/screen/", {"theme": "day", "page": page})["Location"] == "/"


def test_a_cookie_of_another_word_is_day() -> None:
    browser = Client()
    browser.cookies["theme"] = "dusk"
    assert '<html lang="en-GB" class="day">' in browser.get("/sign-on/").content.decode()
