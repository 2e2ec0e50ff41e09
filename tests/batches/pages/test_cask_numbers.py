"""The few casks that fit what is typed into a box, and what a box understands of a number by itself."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from batches.pages.places.cask_numbers import LONGEST, MOST, NONE, fitting
from distillery.people.models import Person
from distillery.plant.models import MICRO, Cask, Kind, Stage, Vessel

pytestmark = pytest.mark.django_db

ADDRESS = "/warehouse/numbers/"


def casks(*codes: str) -> None:
    for code in codes:
        vessel = Vessel.objects.create(code=code, name=code, kind=Kind.CASK, stage=Stage.MATURING)
        Cask.objects.create(vessel=vessel, kind="butt", nominal_ul=500 * MICRO, warehouse="1A")


@pytest.fixture
def client(staff: Person, browser_of: Callable[[Person], Client]) -> Client:
    return browser_of(staff)


def numbers(client: Client, typed: str) -> list[str]:
    answer = client.get(ADDRESS, {"q": typed})
    assert answer.status_code == 200
    return [cask["number"] for cask in answer.json()["casks"]]


@pytest.mark.parametrize(
    ("typed", "offered"),
    [
        ("2022/", ["2022/0007", "2022/0070"]),
        (" 2022/007", ["2022/0007", "2022/0070"]),
        ("2022/7", ["2022/0007"]),
        ("ab", ["AB/1"]),
        ("ab/01", ["AB/1"]),
        ("2022/9", []),
        ("SV", []),
        ("", []),
        ("%", []),
        ("_", []),
        ("2" * (LONGEST + 1), []),
    ],
)
def test_the_casks_that_can_be_meant_the_very_one_first(client: Client, typed: str, offered: list[str]) -> None:
    casks("2022/0007", "2022/0070", "AB/1")
    Vessel.objects.create(code="SV", name="Spirit vat", kind=Kind.VAT, stage=Stage.NEW_SPIRIT)
    assert numbers(client, typed) == offered


def test_a_text_that_no_database_holds_is_refused_before_it_is_asked(client: Client) -> None:
    assert client.get(ADDRESS, {"q": "2022/\x00"}).status_code == 400
    assert fitting("2022/\x00") == []


def test_no_more_than_fit_under_a_box_and_a_word_that_there_are_more(client: Client) -> None:
    casks(*(f"2022/{number:04}" for number in range(1, MOST + 2)))
    answer = client.get(ADDRESS, {"q": "2022"}).json()
    assert len(answer["casks"]) == MOST
    assert answer["said"] == f"The first {MOST}; type more of the number."
    assert answer["casks"][0] == {"number": "2022/0001", "about": "butt, warehouse 1A, empty"}


def test_none_that_fits_is_said(client: Client) -> None:
    assert client.get(ADDRESS, {"q": "2022/1"}).json() == {"casks": [], "said": NONE}


def test_it_asks_as_often_with_two_hundred_casks_as_with_ten(client: Client) -> None:
    counts = []
    for number in (10, 200):
        casks(*(f"20{number}/{one:04}" for one in range(number)))
        with CaptureQueriesContext(connection) as asked:
            assert numbers(client, "20")
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_only_those_who_signed_on_are_answered(stranger: Client) -> None:
    answer = stranger.get(ADDRESS, {"q": "2022"})
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("login"))


def test_a_form_has_a_box_that_finds_and_no_list_of_casks(client: Client) -> None:
    casks("2022/0007")
    page = client.get("/records/regauge/new/").content.decode()
    assert f'data-offers="{ADDRESS}"' in page
    assert "2022/0007" not in page
