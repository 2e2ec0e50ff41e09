"""Sums of the still house at the bench against rows of tests/data/process_checks.csv, which name their sources."""

from __future__ import annotations

import pytest

from tests.distillery.bench.bench_plant import facts, make_plant, value
from tests.distillery.process.process_checks import check, expected, inputs, tolerance

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _plant() -> None:
    make_plant()


def test_strength_of_a_charge(stranger):
    given = inputs("P057")
    asked = {
        "low_wines_litres": given["V_lw"],
        "low_wines_percent": 100 * given["L"] / given["V_lw"],
        "feints_litres": given["V_recycle"],
        "feints_percent": 100 * given["R"] / given["V_recycle"],
    }
    page = stranger.get("/bench/charge/", asked)
    assert value(facts(page)["Strength of the charge"]) == pytest.approx(expected("P057"), abs=tolerance("P057"))
    assert "cannot be judged" not in page.content.decode()


def test_a_charge_that_is_too_strong(stranger):
    given = inputs("P058")
    asked = {
        "low_wines_litres": given["low_wines_l"],
        "low_wines_percent": given["low_wines_abv"],
        "feints_litres": given["recycle_l"],
        "feints_percent": given["recycle_abv"],
    }
    page = stranger.get("/bench/charge/", asked)
    shown = value(facts(page)["Strength of the charge"])
    assert f"{shown:.2f}%" in check("P058").expected
    assert "Not under 30.0 % vol" in page.content.decode()


def test_where_feints_settle(stranger):
    given = inputs("P055")
    asked = {
        "low_wines_lpa": given["L"],
        "recycled_percent": 100 * given["r"],
        "lost_percent": 0.5,
        "feints_lpa": 0,
    }
    page = stranger.get("/bench/steady/", asked)
    shown = facts(page)
    for label, key in (
        ("Each charge, once settled", "P052"),
        ("Foreshots and feints, once settled", "P051"),
        ("Spirit of a charge, once settled", "P053"),
    ):
        assert value(shown[label]) == pytest.approx(expected(key), abs=tolerance(key))
    assert value(shown["Charges until within 1 % of it"]) == expected("P056")
    assert ", ".join(check("P055").expected.split()) in page.content.decode()


def test_shares_that_cannot_be_are_refused_beside_their_box(stranger):
    page = stranger.get(
        "/bench/steady/", {"low_wines_lpa": 1000, "recycled_percent": 100, "lost_percent": 0, "feints_lpa": 0}
    )
    assert "never settles" in page.content.decode()


def test_yield_of_a_period(stranger):
    given = inputs("P062")
    asked = {
        "spirit_lpa": given["spirit_lpa"],
        "feints_open_lpa": given["feints_open_lpa"],
        "feints_close_lpa": given["feints_close_lpa"],
        "malt_kilograms": given["malt_kg"],
        "predicted": inputs("P063")["psy"],
    }
    page = stranger.get("/bench/yield/", asked)
    shown = facts(page)
    assert value(shown["Yield"]) == pytest.approx(expected("P062"), abs=tolerance("P062"))
    assert value(shown["Of what the malt promised"]) == pytest.approx(expected("P063"), abs=tolerance("P063"))
    assert stranger.get("/bench/yield/slip.pdf", asked).content.startswith(b"%PDF")


def test_no_yield_without_malt(stranger):
    asked = {"spirit_lpa": 1, "feints_open_lpa": 0, "feints_close_lpa": 0, "malt_kilograms": 0}
    assert "Without malt there is no yield" in stranger.get("/bench/yield/", asked).content.decode()
