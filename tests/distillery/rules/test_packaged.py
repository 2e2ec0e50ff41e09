"""Dated rows of packages and bottle sizes against their tables (tests/data, from GOV.UK's restatement of the law)."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

import pytest

from distillery.process.bottling import limits, size_judged
from distillery.rules.in_force import NoRuleInForce, review_threshold
from distillery.rules.models import NominalQuantity, PackageError
from distillery.rules.names import requirements
from distillery.rules.packaged import error_bands, size_rules
from distillery.seals.writing import signed

DATA = Path(__file__).resolve().parents[2] / "data"
DAY = date(2027, 3, 7)

pytestmark = pytest.mark.django_db


def test_the_errors_are_those_of_the_table() -> None:
    with (DATA / "packaged_goods_tne.csv").open(encoding="utf-8", newline="") as table:
        published = [
            tuple(
                float(row[name]) if row[name] else None
                for name in ("nominal_from", "nominal_to", "tne_percent_of_nominal", "tne_absolute")
            )
            for row in csv.DictReader(table)
        ]
    found = error_bands(DAY)
    assert [(one.from_ml, one.to_ml, one.percent, one.millilitres) for one in found] == published
    assert all("2006/659" in one.source for one in found)
    assert limits(700, found).t2_ml == 670


def test_the_sizes_are_those_of_the_table() -> None:
    rules = size_rules(DAY)
    with (DATA / "nominal_quantities_spirits.csv").open(encoding="utf-8", newline="") as table:
        permitted = tuple(float(row["min_ml"]) for row in csv.DictReader(table) if row["rule"] == "permitted")
    assert size_judged(700, rules).listed_ml == permitted
    assert not size_judged(750, rules).may_be_sold
    assert size_judged(99.9, rules).may_be_sold
    assert size_judged(2500, rules).may_be_sold


@signed("tests")
def _one_row(day: date) -> None:
    PackageError.objects.create(from_day=day, nominal_from_ul=0, error_ul=1_000_000, source="invented")


def test_a_table_that_begins_later_takes_the_place_of_the_whole() -> None:
    _one_row(date(2028, 1, 1))
    assert len(error_bands(DAY)) == PackageError.objects.count() - 1
    assert [one.millilitres for one in error_bands(date(2028, 1, 1))] == [1000.0]


def test_before_any_table_nothing_is_guessed() -> None:
    assert NominalQuantity.objects.exists()
    with pytest.raises(NoRuleInForce, match="No nominal quantity of spirits is set"):
        size_rules(date(1999, 1, 1))


def test_what_a_vat_may_lose_has_its_basis() -> None:
    for operation in ("vatting", "filtration", "standing"):
        rule = review_threshold(operation, "", DAY)
        assert "common practice, no source" in rule.source
        assert rule.usual_millionths + rule.usual_half_width_millionths < rule.threshold_millionths
    assert [one.code for one in requirements("spirit drink", DAY)] == ["E01"]
