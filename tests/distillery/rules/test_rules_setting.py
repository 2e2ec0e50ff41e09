"""A site's own figures: added with a source, refused with a sentence."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from distillery.rules import in_force
from distillery.rules.models import DutyRate, LossCause, ReviewThreshold
from distillery.rules.setting import figures as setting
from distillery.rules.setting.figures import Unsettable

pytestmark = pytest.mark.django_db

DAY = date(2027, 2, 1)
THRESHOLD: dict[str, Any] = {
    "operation": "transfer",
    "from_day": DAY,
    "usual_percent": Decimal("0.1"),
    "usual_half_width_percent": Decimal("0.1"),
    "spread_percent": Decimal("0.1"),
    "threshold_percent": Decimal("0.9"),
    "floor_lpa": Decimal(5),
    "source": "the site's transfers of a year",
}


@pytest.mark.parametrize(
    ("field", "figure"),
    [
        ("threshold_percent", Decimal("100.1")),
        ("threshold_percent", Decimal("-0.1")),
        ("usual_percent", Decimal("0.00001")),
        ("spread_percent", Decimal("nan")),
        ("floor_lpa", Decimal("-1")),
        ("source", "  "),
        ("operation", ""),
    ],
)
def test_a_threshold_that_cannot_be_kept_is_refused_by_field(field: str, figure: object) -> None:
    before = ReviewThreshold.objects.count()
    with pytest.raises(Unsettable) as refused:
        setting.set_threshold(**{**THRESHOLD, field: figure})
    assert refused.value.field == field
    assert refused.value.sentence.endswith(".")
    assert ReviewThreshold.objects.count() == before


def test_a_new_duty_rate_leaves_the_old_one_as_it_was() -> None:
    old = in_force.duty_rate(date(2027, 1, 31), Decimal(40))
    as_it_was = DutyRate.objects.filter(pk=old.pk).values().get()
    setting.set_duty_rate(
        from_day=DAY,
        strength_from_percent=Decimal("22.1"),
        strength_to_percent=Decimal(100),
        pounds_per_lpa=Decimal("35.01"),
        tax_type="345",
        source="invented for this test",
    )
    assert in_force.duty_rate(date(2027, 1, 31), Decimal(40)) == old
    assert in_force.duty_rate(DAY, Decimal(40)).pence_hundredths_per_lpa == 350_100
    # The band that nobody entered anew is not known past 31 January 2027, the end to which its rate was announced.
    with pytest.raises(in_force.DutyNotKnown, match="not known: the last one is known to Sun 31 Jan 2027"):
        in_force.duty_rate(DAY, Decimal(20))
    assert DutyRate.objects.filter(pk=old.pk).values().get() == as_it_was


def test_a_band_upside_down_is_refused() -> None:
    with pytest.raises(Unsettable, match="exchange the two"):
        setting.set_cask_band(
            from_day=DAY, low_percent_a_year=Decimal(3), high_percent_a_year=Decimal(1), source="regauges"
        )


def test_a_usual_figure_holds_from_its_day_on() -> None:
    setting.set_usual_figure(name="run time", from_day=DAY, spread=Decimal("1.5"), source="two hundred runs")
    before, after = in_force.usual_figure("run time", date(2027, 1, 31)), in_force.usual_figure("run time", DAY)
    assert before is not None
    assert after is not None
    assert (before.spread_millionths, after.spread_millionths) == (700_000, 1_500_000)
    assert (after.unit, after.expected_millionths) == ("h", None)
    assert in_force.usual_figure("height of the still", DAY) is None


@pytest.mark.parametrize(
    ("name", "spread", "sentence"),
    [("height of the still", "1", "No figure is called height of the still"), ("run time", "0", "above 0")],
)
def test_a_usual_figure_that_says_nothing_is_refused(name: str, spread: str, sentence: str) -> None:
    with pytest.raises(Unsettable, match=sentence):
        setting.set_usual_figure(name=name, from_day=DAY, spread=Decimal(spread), source="runs")


def test_a_cause_is_listed_once() -> None:
    setting.add_loss_cause(name="Hose left full", from_day=DAY, source="the site's loss register")
    assert LossCause.objects.filter(name="hose left full").exists()
    with pytest.raises(Unsettable, match="on the list already"):
        setting.add_loss_cause(name="hose left full ", from_day=DAY, source="again")


@pytest.mark.parametrize("figure", ["1e30", "1e400", "1e999999", "12345678901234", "-1"])
def test_a_rate_too_large_to_keep_is_refused(figure: str) -> None:
    with pytest.raises(Unsettable, match=r"larger than can be kept|below zero") as refused:
        setting.set_duty_rate(
            from_day=DAY,
            strength_from_percent=Decimal("22.1"),
            strength_to_percent=Decimal(100),
            pounds_per_lpa=Decimal(figure),
            source="invented",
        )
    assert refused.value.field == "pounds_per_lpa"


def test_a_rate_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(Unsettable, match="before the first"):
        setting.set_duty_rate(
            from_day=DAY,
            to_day=date(2027, 1, 31),
            strength_from_percent=Decimal("22.1"),
            strength_to_percent=Decimal(100),
            pounds_per_lpa=Decimal(35),
            source="invented",
        )


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("name", "duty on a line too", "there are:"),
        ("way", "sideways", "no way of rounding"),
        ("step", Decimal(0), "rounds to nothing"),
        ("source", " ", "Fill in the source"),
    ],
)
def test_a_rounding_that_says_nothing_is_refused(field: str, value: object, sentence: str) -> None:
    given: dict[str, Any] = {
        "name": "duty strength",
        "from_day": DAY,
        "step": Decimal("0.1"),
        "way": "down",
        "source": "invented",
    }
    with pytest.raises(Unsettable, match=sentence) as refused:
        setting.set_rounding_rule(**{**given, field: value})
    assert refused.value.field == field
