"""Roundings by name, each against a published example where there is one."""

from datetime import date
from decimal import Decimal
from math import nan

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published_tables import rows

from distillery.alcoholometry.errors import NotANumber, OutsideTable
from distillery.alcoholometry.gravity import hmrc_gravity_table, wash_percent_exact
from distillery.alcoholometry.rounding import (
    DUTY_MONEY,
    DUTY_STRENGTH,
    RETURN_LITRES,
    RETURN_LPA,
    RULES,
    SHOWN_LPA,
    TOLERABLE_NEGATIVE_ERROR,
    US_GALLONS,
    US_PROOF,
    rule_in_force,
)


def test_duty_strength_is_cut_to_one_decimal():
    """HMRC Alcoholic products technical guide, section 11: 7.59 becomes 7.5."""
    row = next(row for row in rows("process_checks") if row["id"] == "P093")
    assert DUTY_STRENGTH.apply(Decimal("7.59")) == Decimal(row["expected"])
    assert DUTY_STRENGTH.apply(40.09) == Decimal("40.0")
    assert str(DUTY_STRENGTH.apply(40)) == "40.0"


def test_product_that_is_exact_on_paper_is_not_cut():
    """39 × 0.130 is 5.07; from gravities in binary it falls short, and a cut would make it 5.06."""
    product = Decimal(39) * Decimal("0.130")
    assert RETURN_LITRES.apply(product) == Decimal("5.07")
    assert (1.057 - 1.018) * 1000 * 0.130 < 5.07
    exact = wash_percent_exact(original_gravity=1.057, present_gravity=1.018, table=hmrc_gravity_table())
    assert RETURN_LITRES.apply(exact) == Decimal("5.07")
    assert RETURN_LITRES.apply(5.07) == Decimal("5.07")


def test_part_pence_are_dropped():
    """HMRC, worked figures of the Alcohol Duty return."""
    assert DUTY_MONEY.apply(Decimal("100.1010") * Decimal("1.27")) == Decimal("127.12")
    assert DUTY_MONEY.apply(Decimal("200.2022") * Decimal("1.57")) == Decimal("314.31")


def test_other_rules():
    assert RETURN_LPA.apply("1572.17049") == Decimal("1572.1704")
    assert US_PROOF.apply("189.45") == Decimal("189.5")
    assert US_PROOF.apply("189.4499") == Decimal("189.4")
    assert US_GALLONS.apply("11921.65") == Decimal("11921.7")
    assert SHOWN_LPA.apply("0.125") == Decimal("0.12")
    assert SHOWN_LPA.apply("-0.135") == Decimal("-0.14")
    assert TOLERABLE_NEGATIVE_ERROR.apply("9.01") == Decimal("9.1")


@given(st.sampled_from(RULES), st.decimals(0, 10**9, places=6))
def test_every_rule_is_settled_and_moves_less_than_a_step(rule, value):
    rounded = rule.apply(value)
    assert rule.apply(rounded) == rounded
    assert abs(rounded - value) < rule.step
    assert rounded % rule.step == 0
    if rule.mode == "down":
        assert rounded <= value
    if rule.mode == "up":
        assert rounded >= value


def test_every_rule_has_a_name_and_a_source():
    assert len({rule.name for rule in RULES}) == len(RULES)
    assert all(rule.name and rule.unit and rule.source for rule in RULES)


def test_rule_in_force_on_a_day():
    later = type(DUTY_STRENGTH)("duty strength", Decimal("0.01"), "% vol", "down", date(2030, 1, 1), "a later rule")
    rules = (*RULES, later)
    assert rule_in_force("duty strength", date(2027, 3, 1), rules) is DUTY_STRENGTH
    assert rule_in_force("duty strength", date(2030, 1, 1), rules) is later
    assert rule_in_force(US_PROOF.name, date(1999, 1, 1)) is US_PROOF
    for name, on in (("duty strength", date(2020, 1, 1)), ("no such rule", date(2027, 1, 1))):
        with pytest.raises(OutsideTable, match="rounding rule"):
            rule_in_force(name, on)


@pytest.mark.parametrize("bad", [nan, "forty", "", Decimal("Infinity")])
def test_what_is_no_number_is_refused(bad):
    with pytest.raises(NotANumber):
        DUTY_STRENGTH.apply(bad)
