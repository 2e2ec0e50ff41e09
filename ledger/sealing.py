"""The seal of a movement: a digest over its whole content and the seal before it.

What is hashed, exactly: the previous seal (64 hexadecimal figures), a line feed, and the movement as one
line of JSON with sorted keys, no spaces, and all characters beyond ASCII escaped. Times are UTC to the
microsecond. The keys are those of `content` below. SHA-256, written in hexadecimal.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from ledger.models import Account, Duty, Figure, Gauge, Leg, Measure, Movement

FIRST_SEAL = "0" * 64


def utc(moment: datetime) -> str:
    """A moment as text that both engines and an outsider write alike."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


@dataclass(frozen=True, slots=True)
class Details:
    """What hangs on a movement beside its legs."""

    gauges: list[Gauge] = field(default_factory=list)
    measures: list[Measure] = field(default_factory=list)
    figures: list[Figure] = field(default_factory=list)
    duties: list[Duty] = field(default_factory=list)


def content(
    movement: Movement,
    legs: Iterable[Leg],
    details: Details,
    *,
    accounts: Mapping[int, Account],
    people: Mapping[int, str],
) -> dict[str, Any]:
    """The movement as plain data, in the form that is sealed."""
    legs = list(legs)
    return {
        "accounts": sorted(_described(accounts[pk]) for pk in accounts_of(legs, details)),
        "number": movement.id,
        "kind": movement.kind,
        "operation": movement.operation,
        "happened_at": utc(movement.happened_at),
        "written_at": utc(movement.written_at),
        "period": movement.period,
        "person": people[movement.person_id],
        "second": people[movement.second_id] if movement.second_id else None,
        "record": [movement.record_kind, movement.record_number, movement.moment],
        "record_digest": movement.record_digest,
        "reason": movement.reason,
        "corrects": movement.corrects_id,
        "restates": movement.restates_id,
        "slot": movement.slot,
        "legs": [
            [
                leg.line,
                leg.position,
                accounts[leg.account_id].code,
                accounts[leg.other_id].code if leg.other_id else None,
                leg.stage,
                leg.entry,
                utc(leg.happened_at),
                leg.period,
                leg.pure_ul,
                leg.mass_g,
            ]
            for leg in sorted(legs, key=lambda leg: leg.line)
        ],
        "gauges": [
            [
                accounts[gauge.account_id].code,
                gauge.name,
                gauge.role,
                gauge.method,
                utc(gauge.happened_at),
                gauge.position,
                gauge.pure_ul,
                gauge.mass_g,
                gauge.litres20_ul,
                gauge.percent20_millionths,
                gauge.uncertainty_ul,
                gauge.book_ul,
                gauge.rule,
                gauge.raw,
                gauge.chain,
            ]
            for gauge in sorted(details.gauges, key=lambda gauge: gauge.position)
        ],
        "measures": [
            [
                one.line,
                accounts[one.giver_id].code,
                accounts[one.taker_id].code,
                one.name,
                one.method,
                one.pure_ul,
                one.mass_g,
                one.litres20_ul,
                one.percent20_millionths,
                one.uncertainty_ul,
                one.rule,
                one.raw,
                one.chain,
            ]
            for one in sorted(details.measures, key=lambda one: one.line)
        ],
        "figures": [
            [
                one.line,
                one.name,
                one.like,
                one.beside,
                one.field,
                one.unit,
                one.value_millionths,
                one.expected_millionths,
                one.spread_millionths,
                one.parts,
            ]
            for one in sorted(details.figures, key=lambda one: one.line)
        ],
        "duties": [
            [
                duty.removal,
                duty.tax_type,
                duty.litres20_ul,
                duty.percent_millionths,
                duty.pure_ul,
                duty.rate_pence_hundredths,
                duty.pence,
                duty.source,
            ]
            for duty in sorted(details.duties, key=lambda duty: duty.pk or 0)
        ],
    }


def accounts_of(legs: Iterable[Leg], details: Details) -> set[int]:
    """Keys of the accounts a movement names."""
    named = {pk for leg in legs for pk in (leg.account_id, leg.other_id) if pk}
    named |= {one.account_id for one in details.gauges}
    return named | {pk for one in details.measures for pk in (one.giver_id, one.taker_id)}


def _described(account: Account) -> list[Any]:
    """What an account is: a name, stage or floor changed later would no longer fit the seals that used it."""
    return [
        account.code,
        account.kind,
        account.name,
        account.stage,
        account.vessel_id,
        account.floor_zero,
        account.bottle_pure_ul,
    ]


def canonical(data: Mapping[str, Any]) -> str:
    """One line of JSON that is always the same for the same data."""
    return json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False)


def seal(previous: str, data: Mapping[str, Any]) -> str:
    """The digest that closes this movement and binds it to the one before."""
    return hashlib.sha256(f"{previous}\n{canonical(data)}".encode("ascii")).hexdigest()
