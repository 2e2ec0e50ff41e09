"""Botanicals at the bench against the check values of the process: P065 to P067 (theginisin.com; computed)."""

from __future__ import annotations

import pytest
from django.test import Client

pytestmark = pytest.mark.django_db
ASKED = {"grams_per_lpa": "48", "charge_litres": "500", "charge_percent": "50", "baskets": "4"}


def test_weights_of_a_charge(stranger: Client) -> None:
    # P065: 12 kg; P066: 3 kg in each of four; P067: 24 g/L.
    page = stranger.get("/bench/botanicals/", ASKED).content.decode()
    for shown in ("12.000", "3.000", "24.0", "250.00"):
        assert shown in page
    assert "24.0 g/L is within the published 20 to 35 g/L" in page


def test_a_load_beyond_what_is_published_is_said(stranger: Client) -> None:
    page = stranger.get("/bench/botanicals/", ASKED | {"grams_per_lpa": "100"}).content.decode()
    assert "50.0 g/L is outside the published" in page


@pytest.mark.parametrize("wrong", [{"charge_litres": "0"}, {"charge_percent": "101"}, {"baskets": "0"}])
def test_what_cannot_be_is_refused_at_its_box(stranger: Client, wrong: dict[str, str]) -> None:
    page = stranger.get("/bench/botanicals/", ASKED | wrong).content.decode()
    assert "In each basket" not in page
    assert next(iter(wrong.values())) in page
