"""A month's page and its print say the same things about its figures."""

from __future__ import annotations

import io
from collections.abc import Callable

import pytest
from django.test import Client
from pypdf import PdfReader

from distillery.figures import ROUNDING
from distillery.people.models import Person

PERIOD = "2027-03"

Browser = Callable[[Person], Client]


def text_of(pdf: bytes) -> str:
    return " ".join("\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


@pytest.mark.usefixtures("loaded_month")
def test_page_and_print_say_in_one_sentence_why_rounded_figures_need_not_add_up(
    browser_of: Browser, officer: Person
) -> None:
    client = browser_of(officer)
    assert ROUNDING in client.get(f"/books/months/{PERIOD}/").content.decode()
    assert ROUNDING in text_of(client.get(f"/books/months/{PERIOD}/account.pdf").content)
