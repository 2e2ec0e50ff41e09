"""What each operation and each gauge of a month left unaccounted for, read from the posted legs.

An operation's difference is what measurement says is missing (positive) or extra (negative) after the
known losses. A gauge's finding is what the vessel held more (positive) or less than its book. Microlitres.
The number of queries does not depend on the month.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import datetime
from math import sqrt

from django.db.models import Q

from distillery.plant.models import Kind
from ledger.models import Entry, Gauge, Leg, StandingMovements


@dataclass(frozen=True, slots=True)
class Found:
    """What one standing gauge found against its book, restatements counted in."""

    gauge: Gauge
    vessel: str
    record: str
    record_kind: str
    at: datetime
    found_ul: int
    uncertainty_ul: float
    contents_ul: int
    before: Gauge | None


@dataclass(slots=True)
class OperationDifference:
    """What one record's operation left unaccounted for."""

    operation: str
    record: str
    record_kind: str
    at: datetime
    stage: str = ""
    difference_ul: int = 0
    in_ul: int = 0
    losses_ul: int = 0
    gauges: list[Gauge] = field(default_factory=list)
    vessels: set[str] = field(default_factory=set)

    @property
    def uncertainty_ul(self) -> float:
        """Standard uncertainty: the gauges' own, combined as independent (JCGM 100:2008, 5.1.2)."""
        return sqrt(sum(float(gauge.uncertainty_ul) ** 2 for gauge in self.gauges))


def operation_differences(movements: StandingMovements) -> list[OperationDifference]:
    """One entry for each record that posted a difference or an operation, in order of time."""
    rows = list(movements.operations().order_by("happened_at", "slot"))
    numbers = [movement.pk for movement in rows]
    found: dict[tuple[str, str], OperationDifference] = {}
    by_movement: dict[int, OperationDifference] = {}
    for movement in rows:
        key = (movement.record_kind, movement.record_number)
        entry = found.setdefault(
            key,
            OperationDifference(
                movement.operation, movement.record_number, movement.record_kind, movement.took_place_at
            ),
        )
        # What is carried over a close belongs where it truly happened.
        entry.at = movement.took_place_at
        by_movement[movement.pk] = entry
    legs = Leg.objects.filter(movement__in=numbers).select_related("account", "account__vessel")
    for leg in legs:
        entry = by_movement[leg.movement_id]
        account = leg.account
        if account.kind == "difference" and not account.code.startswith("difference:gauging:"):
            entry.difference_ul += leg.pure_ul
            entry.stage = leg.stage
        elif account.kind == "loss":
            entry.losses_ul += leg.pure_ul
        elif account.kind in ("vessel", "stock") and leg.entry != Entry.GAUGING:
            # A still only passes on what the vessels around it gave.
            if leg.pure_ul < 0 and not (account.vessel and account.vessel.kind == Kind.STILL):
                entry.in_ul -= leg.pure_ul
            entry.vessels.add(account.code.removeprefix("vessel:"))
    for gauge in Gauge.objects.filter(movement__in=numbers).select_related("account"):
        entry = by_movement[gauge.movement_id]
        entry.gauges.append(gauge)
    for entry in found.values():
        # Water moves no alcohol: what a reduction is judged by is what the vessel held.
        if entry.in_ul < max((gauge.pure_ul for gauge in entry.gauges), default=0) and entry.operation == "reduction":
            entry.in_ul = max(gauge.pure_ul for gauge in entry.gauges)
    return [entry for entry in found.values() if entry.gauges or entry.difference_ul]


def gauge_findings(movements: StandingMovements) -> list[Found]:
    """What every standing gauge of these movements found, with the gauge of the same vessel before it."""
    numbers = list(movements.operations().values_list("pk", flat=True))
    gauges = list(
        Gauge.objects.filter(movement__in=numbers)
        .select_related("account", "movement")
        .order_by("account_id", "happened_at", "position")
    )
    # Gauging legs stand in the gauge's own place, its restatements right behind it.
    found: dict[tuple[int, datetime, int], int] = defaultdict(int)
    own = Q(movement__in=numbers) | Q(movement__restates__in=[gauge.pk for gauge in gauges])
    legs = Leg.objects.standing().filter(own, entry=Entry.GAUGING, account__kind="vessel")
    for account_id, happened_at, position, pure_ul in legs.values_list(
        "account_id", "happened_at", "position", "pure_ul"
    ):
        found[account_id, happened_at, position] += pure_ul
    result: list[Found] = []
    previous: dict[int, Gauge] = {}
    for gauge in gauges:
        before = previous.get(gauge.account.pk)
        previous[gauge.account.pk] = gauge
        of_gauge = float(gauge.uncertainty_ul)
        result.append(
            Found(
                gauge=gauge,
                vessel=gauge.account.code.removeprefix("vessel:"),
                record=gauge.movement.record_number,
                record_kind=gauge.movement.record_kind,
                at=gauge.happened_at,
                found_ul=found[gauge.account.pk, gauge.happened_at, gauge.position],
                uncertainty_ul=sqrt(of_gauge**2 + (float(before.uncertainty_ul) if before else 0.0) ** 2),
                contents_ul=gauge.pure_ul,
                before=before,
            )
        )
    return sorted(result, key=lambda one: (one.at, one.gauge.position))
