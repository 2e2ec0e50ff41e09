"""The walk of what is reached finds what reading every link finds, to the last digit; invented chains."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta

import pytest

from batches.models import Contents, Link, Record
from batches.tracing import reached
from batches.tracing.trace import Traced, trace_back, trace_forward
from batches.tracing.walk import Passing, go_back, go_forward
from distillery.people.models import Person
from distillery.seals.writing import signed
from ledger.models import Account
from tests.batches.random_writer import Writer
from tests.batches.shares import shares_by_kind
from tests.batches.tracing.plain_walk import plain_back, plain_forward

BEGAN = datetime(2027, 3, 1, tzinfo=UTC)
KINDS = ("intake", "mash", "fermentation", "wash_run", "spirit_run", "transfer", "cask_fill", "bottling")


def as_told(traced: list[Traced]) -> list[tuple[str, str, int, float, float]]:
    return [(one.record, one.kind, one.pure_ul, one.share, one.of_all) for one in traced]


def agree(ref: str) -> None:
    assert as_told(trace_back(ref)) == as_told(plain_back(ref))
    assert as_told(trace_forward(ref)) == as_told(plain_forward(ref))


@signed("tests")
def _chains(dice: random.Random, person: Person) -> list[str]:
    """Records of every kind with links drawn at random: vessels and none, many at one moment, round and round."""
    records = [
        Record(
            kind=dice.choice(KINDS),
            number=f"X{place:03}",
            happened_from=BEGAN,
            opened_by=person,
            opened_at=BEGAN,
        )
        for place in range(40)
    ]
    for record in records:
        record.save()
    accounts = list(Account.objects.filter(kind="vessel").order_by("pk"))
    links = []
    for _ in range(dice.randrange(20, 160)):
        giver, taker = dice.sample(records, 2)
        account = dice.choice([*accounts, None])
        links.append(
            Link(
                giver=giver,
                taker=taker,
                account=account,
                happened_at=BEGAN + timedelta(hours=dice.randrange(60)),
                slot=dice.randrange(3),
                pure_ul=dice.randrange(10**9),
                mass_g=dice.randrange(10**6) if account is None else 0,
            )
        )
    Link.objects.bulk_create(links)
    for account in accounts:
        for hour in sorted(dice.sample(range(60), 2)):
            shares = {str(one.pk): dice.randrange(1, 10**9) for one in dice.sample(records, 3)}
            book = sum(shares.values()) if dice.random() < 0.8 else 0
            kept = str(shares).replace("'", '"') if book else "{}"
            Contents.objects.create(
                account=account, happened_at=BEGAN + timedelta(hours=hour), slot=1, book_ul=book, shares=kept
            )
    return [record.number for record in records] + [one.vessel.code for one in accounts if one.vessel is not None]


@pytest.mark.parametrize("seed", range(4))
def test_any_chain_is_followed_as_if_all_links_were_read(
    seed: int, small_books: None, staff: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    # What is drawn at random has no movements by which its accounts could be found.
    monkeypatch.setattr(reached, "FEW", 0)
    dice = random.Random(seed)
    for ref in dice.sample(_chains(dice, staff), 20):
        agree(ref)


def test_a_month_is_followed_as_if_all_links_were_read(loaded_month: None, staff: Person, manager: Person) -> None:
    writer = Writer(3, staff, manager)
    assert sum(bool(writer.write()) for _ in range(4))
    vessels = list(Account.objects.filter(kind="vessel").values_list("vessel__code", flat=True))
    numbers = list(Record.objects.exclude(state="void").order_by("pk").values_list("number", flat=True))
    dice = random.Random(5)
    for ref in [*dice.sample(vessels, 6), *dice.sample(numbers, 12)]:
        agree(ref)
        for found in (trace_back(ref), trace_forward(ref)):
            assert all(abs(one - 1) < 1e-9 for one in shares_by_kind(found).values())


def test_what_was_given_before_carries_nothing_of_what_came_after() -> None:
    # A gives to B at first, and C gives to A afterwards: nothing of C is in B, worked by hand.
    links = [Passing(1, 2, 9, 60.0, 60), Passing(3, 1, 9, 40.0, 40), Passing(1, 4, 9, 40.0, 40)]
    back = go_back(links, {2: 1.0})
    assert (back.parts[1], back.parts.get(3)) == (1.0, None)
    assert back.left == {2: 0.0, 1: 1.0}
    ahead = go_forward(links, [3])
    assert (ahead.amounts.get(2), ahead.amounts[4], ahead.parts[4]) == (None, 40.0, 1.0)


def test_shares_at_the_ends_of_a_chain_are_all_of_it() -> None:
    # Two givers to a vat, one of them of two mashes: 30 and 70 by weight, then 1 to 3 by alcohol.
    links = [
        Passing(1, 3, None, 30.0, 100),
        Passing(2, 3, None, 70.0, 100),
        Passing(3, 5, 9, 100.0, 100),
        Passing(4, 5, 9, 300.0, 300),
    ]
    back = go_back(links, {5: 1.0})
    assert back.left[1] == pytest.approx(0.075)
    assert back.left[2] == pytest.approx(0.175)
    assert back.left[4] == pytest.approx(0.75)
    assert sum(back.left.values()) == pytest.approx(1.0)
