"""Sums of a bottling line and of bulk packs, against published and computed values (tests/data/process_checks.csv)."""

from __future__ import annotations

import csv
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from distillery.alcoholometry.errors import CannotReach, OutOfRange, OutsideTable
from distillery.alcoholometry.rounding import DUTY_STRENGTH
from distillery.process.bottling import (
    ErrorBand,
    Limits,
    OnTheLine,
    SizeRule,
    cased,
    label_in_decimals,
    label_lpa,
    limits,
    millilitres_of_grams,
    overfill_lpa,
    packages,
    size_judged,
    within_label,
)
from tests.distillery.process.process_checks import check, inputs

DATA = Path(__file__).resolve().parents[2] / "data"
FEW = 2.5


def bands() -> list[ErrorBand]:
    """GOV.UK, Weights and measures: packaged goods; SI 2006/659."""
    with (DATA / "packaged_goods_tne.csv").open(encoding="utf-8", newline="") as table:
        return [
            ErrorBand(
                float(row["nominal_from"]),
                float(row["nominal_to"]) if row["nominal_to"] else None,
                float(row["tne_percent_of_nominal"]) if row["tne_percent_of_nominal"] else None,
                float(row["tne_absolute"]) if row["tne_absolute"] else None,
            )
            for row in csv.DictReader(table)
        ]


def sizes() -> list[SizeRule]:
    """GOV.UK, Specified quantities; SI 2009/663."""
    with (DATA / "nominal_quantities_spirits.csv").open(encoding="utf-8", newline="") as table:
        return [
            SizeRule(
                float(row["min_ml"]),
                float(row["max_ml"]) if row["max_ml"] else None,
                row["rule"].replace("_", " "),
            )
            for row in csv.DictReader(table)
        ]


def test_the_error_of_a_usual_bottle() -> None:
    assert check("P090").met_by(limits(inputs("P090")["nominal_ml"], bands()).error_ml)
    held = limits(700, bands())
    assert (held.t1_ml, held.t2_ml) == (685, 670)


@pytest.mark.parametrize(
    ("nominal", "error"),
    # Directive 76/211/EEC, Annex I, 2.4; percentages rounded up to the next tenth of a millilitre.
    [(30, 2.7), (50, 4.5), (100, 4.5), (150, 6.8), (200, 9), (350, 10.5), (500, 15), (1000, 15), (1750, 26.3)],
)
def test_the_error_of_other_sizes(nominal: float, error: float) -> None:
    assert limits(nominal, bands()).error_ml == error


def test_no_error_is_known_of_a_thimble() -> None:
    with pytest.raises(OutsideTable, match="4 mL"):
        limits(4, bands())


def test_a_bottle_below_twice_the_error() -> None:
    given = inputs("P091")
    assert check("P091").expected.startswith("reject: under 670")
    found = packages([given["fill_ml"], 702, 703], limits(given["nominal_ml"], bands()), few_percent=FEW)
    assert (found.below_t1, found.below_t2, found.none_below_t2, found.keeps_all) == (1, 1, False, False)


def test_the_three_rules_apart() -> None:
    # Worked by hand: 1 of 40 is 2.5 %, 2 of 40 are 5 %; 684.9 is below 685 and 685 is not.
    held = limits(700, bands())
    one = packages([684.9, *[701.0] * 39], held, few_percent=FEW)
    assert (one.below_t1, one.below_t1_percent, one.few_below_t1, one.keeps_all) == (1, 2.5, True, True)
    two = packages([684.9, 684.9, *[701.0] * 38], held, few_percent=FEW)
    assert (two.below_t1_percent, two.few_below_t1, two.mean_keeps) == (5.0, False, True)
    low = packages([699.9, 700.0], held, few_percent=FEW)
    assert (low.mean_keeps, low.few_below_t1, low.none_below_t2) == (False, True, True)
    assert packages([685.0], held, few_percent=FEW).below_t1 == 0
    with pytest.raises(CannotReach):
        packages([], held, few_percent=FEW)


@given(st.lists(st.integers(0, 20_000).map(lambda tenths: tenths / 10), min_size=1, max_size=40), st.floats(0, 50))
def test_what_is_below_t2_is_below_t1(fills: list[float], error: float) -> None:
    found = packages(fills, Limits(700, error), few_percent=FEW)
    assert found.below_t2 <= found.below_t1 <= found.number
    assert min(fills) - 1e-9 <= found.mean_ml <= max(fills) + 1e-9


def test_grams_to_millilitres() -> None:
    # OIML R 22:1975: 40 % vol is 948.05 kg/m³ at 20 °C; in air it weighs 1.05 to 1.2 g/L less.
    assert millilitres_of_grams(0.7 * (948.05 - 1.06), percent20=40) == pytest.approx(700, abs=0.1)


def test_the_label_beside_what_was_measured() -> None:
    given = inputs("P092")
    assert check("P092").expected == "flag: outside 0.3"
    measured = {"declared_percent": given["declared"], "measured_percent": given["measured"]}
    assert not within_label(**measured, tolerance_percent=0.3)
    # FIC Annex XII: 1.5 for drinks with macerated fruit or plants.
    assert within_label(**measured, tolerance_percent=1.5)
    assert within_label(declared_percent=46.0, measured_percent=46.3, tolerance_percent=0.3)
    assert within_label(declared_percent=41.4, measured_percent=41.1, tolerance_percent=0.3)
    assert label_in_decimals(Decimal("41.40"))
    assert not label_in_decimals(Decimal("41.45"))


def test_duty_strength_is_cut_down() -> None:
    assert check("P093").met_by(float(DUTY_STRENGTH.apply(Decimal(check("P093").inputs["abv"]))))


def test_alcohol_of_a_case_and_of_overfill() -> None:
    given = inputs("P088")
    case = label_lpa(bottles=int(given["bottles"]), centilitres=100 * given["bottle_l"], label_percent=given["abv"])
    assert check("P088").met_by(case)
    given = inputs("P089")
    over = overfill_lpa(millilitres_each=given["ml_each"], bottles=int(given["bottles"]), percent20=given["abv"])
    assert check("P089").met_by(over)


def test_where_the_alcohol_of_the_line_went() -> None:
    # Worked by hand: 500 drawn, 20 returned, 470 bottled, 1 sampled leave 9, 1.875 % of 480.
    line = OnTheLine(drawn_lpa=500, out_lpa=470, returned_lpa=20, samples_lpa=1)
    assert line.lost_lpa == pytest.approx(9)
    assert line.lost_percent == pytest.approx(1.875)
    with pytest.raises(CannotReach):
        _ = OnTheLine(drawn_lpa=20, out_lpa=0, returned_lpa=20).lost_percent


@given(st.integers(0, 100_000), st.integers(1, 60))
def test_no_bottle_is_lost_in_its_case(bottles: int, a_case: int) -> None:
    found = cased(bottles=bottles, bottles_a_case=a_case)
    assert found.cases * a_case + found.loose == bottles
    assert 0 <= found.loose < a_case


def test_a_case_of_nothing() -> None:
    with pytest.raises(OutOfRange):
        cased(bottles=6, bottles_a_case=0)


@pytest.mark.parametrize(
    ("millilitres", "may"),
    # SI 2009/663 as GOV.UK restates it: eight sizes from 100 to 2,000 mL, free below and above.
    [
        *((size, True) for size in (50, 99, 100, 200, 500, 700, 1000, 1750, 2000, 2001, 4500)),
        (375, False),
        (750, False),
    ],
)
def test_sizes_that_may_be_sold(millilitres: float, may: bool) -> None:
    judged = size_judged(millilitres, sizes())
    assert judged.may_be_sold is may
    assert 700 in judged.listed_ml
