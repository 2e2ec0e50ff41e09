"""Rows of what hangs on a movement: legs, gauges, measured flows, figures to be compared, duty.

Amounts are rounded here, once, from the figures of a draft to the whole numbers the ledger keeps.
"""

from __future__ import annotations

import json
from collections.abc import Iterable

from distillery.plant.models import MICRO
from ledger.models import Account, Duty, Figure, Gauge, Leg, MeasuredFlow, Movement
from ledger.posting.drafts import DutyDue, FigureTaken, GaugeTaken, JudgedAgainst, Moved
from ledger.posting.legs import LegPlan


def judge_against(movement: Movement, judged: JudgedAgainst | None, books_ul: int) -> None:
    """Writes on a movement what its difference is judged against; `books_ul` is what its gauges met."""
    if judged is None:
        return
    movement.judged_against = judged.name
    movement.judged_ul = books_ul if judged.pure_ul is None else judged.pure_ul
    movement.judged_parts = json.dumps(dict(judged.parts)) if judged.parts else ""


def leg_rows(movement: Movement, plans: Iterable[LegPlan], accounts: dict[str, Account], *, ahead: int) -> list[Leg]:
    """Legs as planned, their places lowered by `ahead` where the movement is carried; accounts by their codes."""
    return [
        Leg(
            movement_id=movement.pk,
            line=line,
            position=plan.position - ahead,
            account=accounts[plan.account],
            other=accounts[plan.other] if plan.other else None,
            stage=plan.stage,
            entry=plan.entry,
            happened_at=movement.happened_at,
            period=movement.period,
            pure_ul=plan.pure_ul,
            mass_g=plan.mass_g,
        )
        for line, plan in enumerate(plans, start=1)
    ]


def opposite_legs(movement: Movement, original: Movement, *, ahead: int) -> list[Leg]:
    """Legs that take back those of the original exactly."""
    return [
        Leg(
            movement_id=movement.pk,
            line=leg.line,
            position=leg.position - ahead,
            account_id=leg.account_id,
            other_id=leg.other_id,
            stage=leg.stage,
            entry=leg.entry,
            happened_at=movement.happened_at,
            period=movement.period,
            pure_ul=-leg.pure_ul,
            mass_g=-leg.mass_g,
        )
        for leg in original.legs.order_by("line")
    ]


def gauge_row(movement: Movement, taken: GaugeTaken, account: Account, position: int, book_ul: int) -> Gauge:
    """A gauge, at its true moment, with the book it met."""
    quantity = taken.quantity
    return Gauge(
        movement_id=movement.pk,
        account=account,
        name=taken.name,
        role=taken.role,
        method=taken.method,
        happened_at=movement.took_place_at,
        position=position,
        pure_ul=quantity.pure_ul,
        mass_g=quantity.mass_g,
        litres20_ul=round(quantity.litres20 * MICRO),
        percent20_millionths=round(quantity.percent20 * MICRO),
        uncertainty_ul=round(quantity.uncertainty_ul),
        book_ul=book_ul,
        rule=taken.rule,
        raw=_as_typed(taken.raw),
        chain=taken.chain,
    )


def flow_row(movement: Movement, line: int, moved: Moved, accounts: dict[str, Account]) -> MeasuredFlow:
    """How the amount of one line that moved something was measured."""
    assert moved.measured is not None
    taken, quantity = moved.measured, moved.quantity
    return MeasuredFlow(
        movement_id=movement.pk,
        line=line,
        giver=accounts[moved.giver.code],
        taker=accounts[moved.taker.code],
        name=taken.name,
        method=taken.method,
        pure_ul=quantity.pure_ul,
        mass_g=quantity.mass_g,
        litres20_ul=round(quantity.litres20 * MICRO),
        percent20_millionths=round(quantity.percent20 * MICRO),
        uncertainty_ul=round(quantity.uncertainty_ul),
        rule=taken.rule,
        raw=_as_typed(taken.raw),
        chain=taken.chain,
    )


def figure_row(movement: Movement, line: int, taken: FigureTaken) -> Figure:
    """A figure to be compared with its kind."""
    return Figure(
        movement_id=movement.pk,
        line=line,
        name=taken.name,
        like=taken.like,
        beside=taken.beside,
        field=taken.field,
        unit=taken.unit,
        value_millionths=round(taken.value * MICRO),
        expected_millionths=None if taken.expected is None else round(taken.expected * MICRO),
        spread_millionths=None if taken.spread is None else round(taken.spread * MICRO),
        parts=json.dumps(dict(taken.parts), sort_keys=True, separators=(",", ":")),
    )


def _as_typed(raw: dict[str, str]) -> str:
    return json.dumps(raw, sort_keys=True, separators=(",", ":"))


def duty_row(movement: Movement, due: DutyDue) -> Duty:
    """Duty on a removal."""
    return Duty(
        movement_id=movement.pk,
        removal=due.removal,
        tax_type=due.tax_type,
        litres20_ul=round(due.litres20 * MICRO),
        percent_millionths=round(due.percent * MICRO),
        pure_ul=round(due.lpa * MICRO),
        rate_pence_hundredths=due.rate_pence_hundredths,
        pence=due.pence,
        source=due.source,
    )


def opposite_duties(movement: Movement, original: Movement) -> list[Duty]:
    """Duty that takes back that of the original exactly."""
    return [
        Duty(
            movement_id=movement.pk,
            removal=duty.removal,
            tax_type=duty.tax_type,
            litres20_ul=-duty.litres20_ul,
            percent_millionths=duty.percent_millionths,
            pure_ul=-duty.pure_ul,
            rate_pence_hundredths=duty.rate_pence_hundredths,
            pence=None if duty.pence is None else -duty.pence,
            source=duty.source,
        )
        for duty in original.duties.order_by("pk")
    ]
