"""Rows of what hangs on a movement beside its legs: gauges, measured flows, figures to be compared, duty.

Amounts are rounded here, once, from the figures of a draft to the whole numbers the ledger keeps.
"""

from __future__ import annotations

import json

from distillery.plant.models import MICRO
from ledger.models import Account, Duty, Figure, Gauge, Measure, Movement
from ledger.posting.drafts import DutyDue, FigureTaken, GaugeTaken, JudgedAgainst, Moved


def judge_against(movement: Movement, judged: JudgedAgainst | None, books_ul: int) -> None:
    """Writes on a movement what its difference is judged against; `books_ul` is what its gauges met."""
    if judged is None:
        return
    movement.judged_against = judged.name
    movement.judged_ul = books_ul if judged.pure_ul is None else judged.pure_ul
    movement.judged_parts = json.dumps(dict(judged.parts)) if judged.parts else ""


def gauge_row(movement: Movement, taken: GaugeTaken, account_id: int, position: int, book_ul: int) -> Gauge:
    """A gauge, at its true moment, with the book it met."""
    quantity = taken.quantity
    return Gauge(
        movement_id=movement.pk,
        account_id=account_id,
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


def measure_row(movement: Movement, line: int, moved: Moved, accounts: dict[str, Account]) -> Measure:
    """How the amount of one line that moved something was measured."""
    assert moved.measured is not None
    taken, quantity = moved.measured, moved.quantity
    return Measure(
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
