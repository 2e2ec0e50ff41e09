"""The book meets every gauge that stands, and the proof asks for it: a forger of sums and seals forgets the later dips.

The figures of the small ledger are invented.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.db.models import F

from distillery.people.models import Person
from ledger.models import AccountMonth, Balance, Gauge, Head, Leg, Movement, RunningBalance, StageMonth
from ledger.periods import service
from ledger.posting.post import correct, post
from ledger.proof import sealing
from ledger.proof.chain import sealed_movements
from ledger.proof.gauges_met import prove_gauges_met
from ledger.proof.proving import Sums, prove
from tests.faults.forging import make_the_seals_fit

from . import plant
from .test_tampering import small_ledger, unguarded

pytestmark = pytest.mark.django_db


def rework() -> None:
    """Everything that is added up from the legs, and every seal to the end of the chain, made to agree again."""
    sums = Sums()
    previous = sealing.FIRST_SEAL
    for one in sealed_movements():
        assert sums.add(one.movement, one.legs) == (0, 0)
        seal = sealing.seal(previous, one.line)
        Movement.objects.filter(pk=one.number).update(previous_seal=previous, seal=seal)
        previous = seal
    Head.objects.update(last_seal=previous)
    held: dict[int, list[int]] = {}
    for leg in Leg.objects.order_by("account_id", "happened_at", "position", "pk"):
        book = held.setdefault(leg.account_id, [0, 0])
        book[0] += leg.pure_ul
        book[1] += leg.mass_g
        RunningBalance.objects.filter(leg=leg).update(balance_ul=book[0], mass_g=book[1])
    for account, (pure_ul, mass_g) in held.items():
        Balance.objects.filter(account=account).update(balance_ul=pure_ul, mass_g=mass_g)
    for (account, period, stage), (pure_ul, mass_g) in sums.months.items():
        AccountMonth.objects.filter(account=account, period=period, stage=stage).update(pure_ul=pure_ul, mass_g=mass_g)
    for (period, stage), (came, went, lost, differs) in sums.stages.items():
        StageMonth.objects.filter(period=period, stage=stage).update(
            in_ul=came, out_ul=went, loss_ul=lost, difference_ul=differs
        )


def less(movement: int, pure_ul: int) -> None:
    """A movement of two legs moves so much less, and the gauge that it carries says so too."""
    legs = list(Leg.objects.filter(movement=movement))
    assert len(legs) == 2
    for leg in legs:
        sign = 1 if leg.pure_ul > 0 else -1
        Leg.objects.filter(pk=leg.pk).update(pure_ul=leg.pure_ul - sign * pure_ul)
    Gauge.objects.filter(movement=movement).update(pure_ul=F("pure_ul") - pure_ul)


def test_a_forger_who_reworks_sums_and_seals_is_named_by_the_next_gauge() -> None:
    small_ledger()
    unguarded()
    less(1, 10_000_000)
    assert any("seal" in place for place in prove().broken)
    rework()
    make_the_seals_fit()
    broken = prove().broken
    assert broken
    assert all("but the book of" in place for place in broken), broken
    assert "the gauge 'before' measured 1240000000 µL" in broken[0]
    assert "the book of vessel:CHARGE just after it is 1230000000 µL" in broken[0]


def test_a_gauge_of_mass_alone_is_asked_for_too() -> None:
    small_ledger()
    unguarded()
    for leg in Leg.objects.filter(movement=1):
        Leg.objects.filter(pk=leg.pk).update(mass_g=leg.mass_g + (1 if leg.mass_g > 0 else -1))
    Gauge.objects.filter(movement=1).update(mass_g=F("mass_g") + 1)
    rework()
    make_the_seals_fit()
    assert all("but the book of vessel:CHARGE" in place for place in prove().broken)
    assert prove().broken


def test_every_gauge_is_met_after_corrections_and_late_entries() -> None:
    person = small_ledger()
    late = plant.draft(
        "transfer",
        "99",
        1,
        plant.found(plant.vessel("VAT"), 3),
        plant.left(plant.vessel("VAT"), 2, plant.difference("transfer")),
    )
    post(late, person=person)
    assert Movement.objects.filter(kind="restatement").exists()
    assert list(prove_gauges_met()) == []


def test_what_a_closed_period_makes_be_carried_counts_in_its_true_place(manager: Person, staff: Person) -> None:
    """As test_periods has it: a correction of a closed month is carried at its end, its gauges stay where they were."""
    vat = plant.vessel("VAT")
    first = post(plant.opening(vat, 100, hours=0), person=staff)
    post(plant.draft("stock take", "1", 24, plant.found(vat, 99)), person=staff)
    later = datetime(2027, 6, 1, tzinfo=UTC)
    asked = service.ask("2027-03", person=manager, remark="no stock was taken", now=later)
    service.agree(asked, person=staff, now=later)
    correct([first], [plant.opening(vat, 98, hours=0)], person=staff, reason="dip read wrong")
    assert Movement.objects.filter(true_at__isnull=False).exists()
    assert list(prove_gauges_met()) == []
    unguarded()
    carried = Movement.objects.filter(true_at__isnull=False, kind="operation").get()
    less(carried.pk, 1_000_000)
    rework()
    assert any("but the book of vessel:VAT" in place for place in prove_gauges_met())


def test_the_sample_month_meets_its_gauges(loaded_month: Path) -> None:
    assert Gauge.objects.count() > 300
    assert list(prove_gauges_met()) == []
