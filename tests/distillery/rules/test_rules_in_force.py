"""Dated figures: which row holds on a day, at a vessel, for a cask; and that a new row is seen at once."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.test import Client

from distillery.rules import in_force
from distillery.rules.in_force import NoRuleInForce
from distillery.rules.models import CaskBand, GravityFactor, LossCause, ReviewThreshold
from distillery.rules.setting import figures as setting

pytestmark = pytest.mark.django_db

DAY = date(2027, 3, 1)
OPERATIONS = (
    "wash run",
    "spirit run",
    "third still run",
    "transfer",
    "reduction",
    "cask fill",
    "regauge",
    "bottling",
    "gauging",
)


def threshold_from(day: date, percent: str, *, vessel: str = "") -> ReviewThreshold:
    return setting.set_threshold(
        operation="spirit run",
        vessel=vessel,
        from_day=day,
        usual_percent=Decimal("0.4"),
        usual_half_width_percent=Decimal("0.2"),
        spread_percent=Decimal("0.1"),
        threshold_percent=Decimal(percent),
        floor_lpa=Decimal(4),
        source="thirty runs of the site",
    )


@pytest.mark.parametrize("operation", OPERATIONS)
def test_a_new_site_has_a_threshold_with_a_basis_for_each_operation(operation: str) -> None:
    row = in_force.review_threshold(operation, "", DAY)
    assert row.usual_millionths < row.threshold_millionths
    assert row.floor_ul > 0
    assert "computed" in row.source or "ommon practice, no source" in row.source


def test_the_later_row_holds_from_its_day_on() -> None:
    threshold_from(date(2027, 3, 10), "1.5")
    assert in_force.review_threshold("spirit run", "", date(2027, 3, 9)).threshold_millionths == 26_000
    assert in_force.review_threshold("spirit run", "", date(2027, 3, 10)).threshold_millionths == 15_000


def test_a_row_for_the_vessel_goes_before_a_later_one_for_any() -> None:
    threshold_from(date(2027, 1, 1), "2", vessel="SS1")
    threshold_from(date(2027, 2, 1), "1")
    assert in_force.review_threshold("spirit run", "SS1", DAY).threshold_millionths == 20_000
    assert in_force.review_threshold("spirit run", "SS2", DAY).threshold_millionths == 10_000


def test_of_two_rows_of_one_day_the_last_written_holds() -> None:
    threshold_from(DAY, "2")
    threshold_from(DAY, "1.9")
    assert in_force.review_threshold("spirit run", "", DAY).threshold_millionths == 19_000


def test_what_was_read_is_not_asked_again_until_a_figure_is_set(django_assert_num_queries) -> None:
    with django_assert_num_queries(1):
        before = in_force.review_threshold("spirit run", "", DAY)
        assert in_force.review_threshold("spirit run", "", DAY) is before
    threshold_from(DAY, "1")
    assert in_force.review_threshold("spirit run", "", DAY).threshold_millionths == 10_000


def test_the_next_request_reads_afresh(stranger: Client) -> None:
    before = in_force.review_threshold("spirit run", "", DAY)
    # Another process of the site wrote it, so nothing in this one was told.
    ReviewThreshold.objects.filter(pk=before.pk).update(threshold_millionths=12_345)
    assert in_force.review_threshold("spirit run", "", DAY).threshold_millionths == 26_000
    stranger.get("/static/none")
    assert in_force.review_threshold("spirit run", "", DAY).threshold_millionths == 12_345


@pytest.mark.parametrize(
    "ask",
    [
        lambda: in_force.review_threshold("flying", "", DAY),
        lambda: in_force.review_threshold("spirit run", "", date(1999, 12, 31)),
        lambda: in_force.cask_band("1A", "barrel", date(1999, 12, 31)),
        lambda: in_force.gravity_table(date(2012, 12, 31)),
    ],
)
def test_where_nothing_holds_it_says_what_to_enter(ask) -> None:
    with pytest.raises(NoRuleInForce, match=r"^No .* (Set|Enter) "):
        ask()


# Yearly loss 1.5 to 2.5 % by volume: Scotch Malt Whisky Society, "What is the angels' share"; the band is wider.
def test_any_cask_has_a_band() -> None:
    band = in_force.cask_band("1A", "hogshead", DAY)
    assert (band.low_millionths_a_year, band.high_millionths_a_year) == (10_000, 30_000)


def test_the_nearest_band_holds() -> None:
    def band(warehouse: str, kind: str, high: str) -> CaskBand:
        return setting.set_cask_band(
            warehouse=warehouse,
            cask_kind=kind,
            from_day=DAY,
            low_percent_a_year=Decimal("0.5"),
            high_percent_a_year=Decimal(high),
            source="regauges of the site",
        )

    of_kind, of_house, of_both = band("", "butt", "2.1"), band("1A", "", "2.2"), band("1A", "butt", "2.3")
    assert in_force.cask_band("1A", "butt", DAY) == of_both
    assert in_force.cask_band("1A", "barrel", DAY) == of_house
    assert in_force.cask_band("2B", "butt", DAY) == of_kind


# HMRC Excise Notice 226, factors of the older paragraph 30.3; 62.0 x 0.132 = 8.184 worked by hand.
def test_the_gravity_table_is_the_published_one() -> None:
    table = in_force.gravity_table(DAY)
    assert table.factor(Decimal("62.0")) == Decimal("0.132")
    assert table.factor(Decimal("6.9")) == Decimal("0.125")
    assert table.factor(Decimal("7.0")) == Decimal("0.126")
    assert table.factor(Decimal("100.7")) == Decimal("0.135")
    assert "226" in table.source


def test_a_later_gravity_table_replaces_the_whole_of_the_earlier() -> None:
    GravityFactor.objects.create(
        table="of the site",
        from_day=date(2027, 1, 1),
        drop_from_thousandths=0,
        drop_to_thousandths=120_000,
        factor_millionths=131_000,
        source="two hundred distillings of samples",
    )
    assert len(in_force.gravity_table(date(2026, 12, 31)).bands) == 11
    assert in_force.gravity_table(DAY).factor(Decimal(110)) == Decimal("0.131")


def test_every_cause_of_loss_has_a_basis() -> None:
    assert LossCause.objects.filter(name__in=["pot ale", "spent lees", "evaporation in cask"]).count() == 3
    assert not LossCause.objects.filter(source="").exists()
