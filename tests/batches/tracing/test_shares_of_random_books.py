"""Whatever is written, corrected and made void: the shares of every trace sum to one, and what a trace follows is the
ledger's alcohol to the microlitre.

The books begin as a month in which each step between cask and customer stands once; what is written on them is drawn.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.db import transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Sum
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from batches.loading.load_folder import load_folder
from batches.models import Link, Record, State
from batches.tracing.trace import Trace, follow_trace, refer
from distillery.people.models import Person
from ledger.models import AccountKind, Entry, Leg, Movement
from ledger.proof.proving import prove
from tests.batches.random_writer import Writer
from tests.batches.shares import shares_by_kind
from tests.batches.test_load_from_cask_to_customer import TABLES
from tests.batches.tiny_month import write_folder
from tests.ready_databases import FilledOnce, standing_in

# What leaves a vessel by these is all that they took: nothing else gives to them.
FROM_VESSELS = ("transfer", "cask_fill", "disgorging", "vatting", "bottling", "bulk_removal", "cask_removal")


@pytest.fixture(scope="session")
def _whole_database(filled_once: FilledOnce, tmp_path_factory: pytest.TempPathFactory) -> BaseDatabaseWrapper:
    def fill() -> None:
        load_folder(write_folder(tmp_path_factory.mktemp("books"), **TABLES))

    return filled_once("cask_to_customer", fill)


@pytest.fixture(scope="class")
def whole_books(_whole_database: BaseDatabaseWrapper) -> Iterator[None]:
    with standing_in(_whole_database):
        yield


def given_by_vessels(number: str) -> int:
    """What vessels lost by the movements of a record that stand, by their legs, microlitres."""
    movements = Movement.objects.standing().filter(record_number=number)
    legs = Leg.objects.filter(movement__in=movements, account__kind=AccountKind.VESSEL).exclude(entry=Entry.GAUGING)
    net = legs.values_list("account").annotate(of=Sum("pure_ul")).values_list("of", flat=True)
    return -sum(min(0, int(one)) for one in net)


def passed_on(number: str) -> int:
    """What the links into a record pass on to it, microlitres."""
    links = Link.objects.filter(taker__number=number, account__isnull=False)
    return int(links.aggregate(of=Sum("pure_ul"))["of"] or 0)


def sums_to_one(trace: Trace) -> None:
    for traced in (trace.back, trace.forward):
        assert all(share == pytest.approx(1.0, abs=1e-9) for share in shares_by_kind(traced).values())
    if trace.behind_ul:
        # Whatever passed on the way, all of it ends somewhere, and nothing ends twice.
        assert sum(trace.behind.left.values()) == pytest.approx(1.0, abs=1e-9)


@pytest.mark.django_db
@settings(
    max_examples=8,
    deadline=None,
    # A seed says nothing of how simple its books are.
    phases=[Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(seed=st.integers(1, 10_000), writes=st.integers(0, 12))
def test_shares_sum_to_one_and_alcohol_agrees(
    whole_books: None, staff: Person, manager: Person, seed: int, writes: int
) -> None:
    with transaction.atomic():
        writer = Writer(seed, staff, manager)
        for _ in range(writes):
            writer.write()
        standing = Record.objects.exclude(state=State.VOID).order_by("number")
        for kind, number in standing.values_list("kind", "number"):
            trace = follow_trace(refer(number))
            sums_to_one(trace)
            if kind in FROM_VESSELS:
                assert trace.behind_ul == passed_on(number) == given_by_vessels(number), number
        assert prove().broken == []
        transaction.set_rollback(True)
