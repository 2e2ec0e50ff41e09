"""The twelve worked checks of the excise reference (section 10), each through the program's own sums, with the document
that its rule stands in beside it. Volumes and strengths are invented; every product was worked by hand."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from batches.returns.duty_lines import duty_at
from batches.returns.warehouse import FROM_PRODUCTION, LOST_IN_OPERATIONS, LOST_IN_STORAGE, TO_HOME_USE, ClassOfGoods
from distillery.alcoholometry.mixing import Part as Liquid
from distillery.process.ageing import statement_holds, whole_years
from distillery.process.bottling import limits, packages
from distillery.process.distilling import Part, percent_of, spirits_account_lpa
from distillery.process.reducing import reductions
from distillery.rules.cask_loss import yearly_loss_percent
from distillery.rules.in_force import duty_on_line
from distillery.rules.packaged import error_bands
from ledger.statements.month import StageLine

pytestmark = pytest.mark.django_db
UL = 1_000_000


# Duty on a line: GOV.UK, Alcoholic products technical guide, section 11 (strength cut down to one decimal), and HMRC,
# description of the figures that the Alcohol Duty return carries, 2025-26 (part-pence dropped). Rates: HMRC, Alcohol
# Duty rates from 1 February 2025 and 2026. Which rate: SI 2023/884 regulation 10(2).
@pytest.mark.parametrize(
    ("on", "litres", "percent", "lpa", "pence", "tax_type"),
    [
        pytest.param(date(2026, 11, 2), "84.00", "40.0", "33.6000", 1_142_06, "345", id="1, 120 bottles of 70 cl"),
        pytest.param(date(2026, 1, 31), "420.00", "43.0", "180.6000", 5_921_87, "345", id="2, the last day of a rate"),
        pytest.param(date(2026, 2, 1), "420.00", "43.0", "180.6000", 6_138_59, "345", id="2, the first of the next"),
        pytest.param(date(2026, 11, 2), "812.40", "57.86", "469.5672", 15_960_58, "345", id="3, an unlabelled vat"),
        pytest.param(date(2026, 2, 1), "792.00", "5.0", "39.6000", 1_053_75, "325", id="7, cans below 8.5 %"),
    ],
)
def test_checks_1_2_3_and_7_duty_on_a_line(
    on: date, litres: str, percent: str, lpa: str, pence: int, tax_type: str
) -> None:
    due = duty_on_line(on, Decimal(litres), Decimal(percent))
    assert (str(due.lpa), due.pence, due.rate.tax_type) == (lpa, pence, tax_type)
    noon = datetime(on.year, on.month, on.day, 12, tzinfo=UTC)
    assert duty_at(int(due.lpa * UL), due.rate.pence_hundredths_per_lpa, noon) == pence


def test_check_4_the_spirits_account_of_a_receiver() -> None:
    """HMRC Spirits Production Manual SPIR4130: after collection less the remnant. 1,031.284 less 146.068 is 885.216."""
    before, after = Part(212, 68.9), Part(1486, 69.4)
    assert (before.lpa, after.lpa) == (pytest.approx(146.068), pytest.approx(1031.284))
    assert spirits_account_lpa(after_lpa=after.lpa, remnant_lpa=before.lpa) == pytest.approx(885.216)


def test_check_5_the_balances_of_the_two_stills() -> None:
    """HMRC Spirits Production Manual SPIR4150: wash = low wines + loss; low wines + feints = spirit + feints + loss."""
    wash, low_wines = Part(8000, 8.2), Part(2780, 23.2)
    assert (wash.lpa, low_wines.lpa) == (pytest.approx(656.00), pytest.approx(644.96))
    lost = wash.lpa - low_wines.lpa
    assert lost == pytest.approx(11.04)
    assert percent_of(lost, wash.lpa, what="Loss") == pytest.approx(1.68, abs=0.005)
    charged = low_wines.lpa + Part(1150, 27.0).lpa
    out = Part(905, 69.8).lpa + Part(1140, 27.6).lpa
    assert (charged, out) == (pytest.approx(955.46), pytest.approx(946.33))
    assert charged - out == pytest.approx(9.13)
    assert percent_of(charged - out, charged, what="Loss") == pytest.approx(0.96, abs=0.005)


def test_check_6_what_a_cask_lost_in_five_years() -> None:
    """Loss of pure alcohol, not of bulk, is the figure for duty (GOV.UK, technical guide, section 14)."""
    filled, left = Part(200.0, 63.5), Part(184.3, 60.8)
    assert (filled.lpa, round(left.lpa, 3)) == (pytest.approx(127.000), 112.054)
    lost = percent_of(filled.lpa - left.lpa, filled.lpa, what="Loss")
    assert lost == pytest.approx(11.77, abs=0.005)
    assert lost / 5 == pytest.approx(2.35, abs=0.005)
    assert yearly_loss_percent(filled.lpa, left.lpa, 5) == pytest.approx(2.47, abs=0.005)
    assert percent_of(filled.litres - left.litres, filled.litres, what="Bulk") == pytest.approx(7.85)


@pytest.mark.parametrize(
    ("nominal", "t1", "t2"), [(700, 685, 670), (350, 339.5, 329.0), (1000, 985, 970), (100, 95.5, 91.0)]
)
def test_check_8_tolerable_negative_errors(nominal: float, t1: float, t2: float) -> None:
    """Packaged goods regulations, SI 2006/659: T1 is the nominal less the tolerable error, T2 less twice it."""
    held = limits(nominal, error_bands(date(2026, 11, 25)))
    assert (held.t1_ml, held.t2_ml) == (pytest.approx(t1), pytest.approx(t2))


def test_check_9_eight_bottles() -> None:
    """Packers' rules of SI 2006/659: the mean is not below the nominal; 5,602.4 mL of eight are 700.30 each."""
    fills = [700.4, 701.1, 699.2, 700.9, 698.8, 702.3, 700.0, 699.7]
    found = packages(fills, limits(700, error_bands(date(2026, 11, 25))), few_percent=2.5)
    assert found.mean_ml == pytest.approx(700.30)
    assert (found.mean_keeps, found.below_t1, found.keeps_all) == (True, 0, True)


def test_check_10_a_vat_reduced_to_43() -> None:
    """598.500 LPA at 43.0 % are 1,391.86 L; it contracts, so more than 441.86 L of water is wanted (OIML R 22)."""
    [wanted] = reductions(Liquid(950.0, 63.0), [43.0])
    assert wanted.water.litres20 == pytest.approx(1391.86, abs=0.005)
    # Water at 20 °C weighs 0.998201 kg a litre (OIML R 22), in vacuo; in air a scale shows less for the same water.
    assert wanted.water_kilograms_in_air / 0.998201 > 441.86


def test_check_11_a_stock_month_that_does_not_foot_until_its_difference_is_named() -> None:
    """EWR, SI 1988/809, regulation 20, and stock-take with deficiency: GOV.UK, technical guide, section 9."""
    goods = ClassOfGoods("bottled under bond", opening_ul=12_500_000_000, closing_ul=12_849_470_000)
    goods.lines |= {
        FROM_PRODUCTION: 631_690_000,
        TO_HOME_USE: 268_800_000,
        LOST_IN_OPERATIONS: 4_120_000,
        LOST_IN_STORAGE: 9_300_000,
    }
    assert goods.foots
    stage = StageLine("", 12_500_000_000, 631_690_000, 268_800_000, 13_420_000, 3_570_000, 12_845_900_000)
    assert stage.should_be_ul == 12_849_470_000
    assert stage.foots
    assert stage.closing_ul - stage.should_be_ul == -3_570_000


def test_check_12_the_age_on_a_label() -> None:
    """SWR, SI 2009/2890, regulation 12, from memory: whole years of the youngest; its ninth is complete 2 Dec 2026."""
    youngest, bottled = date(2017, 12, 2), date(2026, 11, 25)
    assert whole_years(youngest, bottled) == 8
    assert statement_holds(8, youngest, bottled)
    assert not statement_holds(9, youngest, bottled)
    assert statement_holds(9, youngest, date(2026, 12, 2))
    assert whole_years(date(2016, 5, 14), bottled) == 10
