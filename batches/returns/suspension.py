"""What moved in duty suspension in a month: received, delivered inside the United Kingdom, delivered outside it.

Litres and litres of pure alcohol of one class of product, spirits (HMRC, description of the figures that the Alcohol
Duty return carries, 2025-26). What takes an entry back counts below nothing. Microlitres at 20 °C.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from batches.returns.months import Span
from distillery.alcoholometry.contents import litres_and_percent_of
from distillery.plant.models import MICRO
from ledger.models import AccountKind, Leg, MeasuredFlow
from ledger.posting.boundary import EXPORT, RECEIVED_UNDER_BOND, RETURNED_UNDER_BOND, UNDER_BOND

RECEIVED: Final = "received"
INSIDE: Final = "dispatched inside the UK"
OUTSIDE: Final = "dispatched outside the UK"
LINES: Final = (RECEIVED, INSIDE, OUTSIDE)
_LINE_OF: Final = {
    (AccountKind.SOURCE, RECEIVED_UNDER_BOND): RECEIVED,
    (AccountKind.SOURCE, RETURNED_UNDER_BOND): RECEIVED,
    (AccountKind.REMOVAL, UNDER_BOND): INSIDE,
    (AccountKind.REMOVAL, EXPORT): OUTSIDE,
}


@dataclass(frozen=True, slots=True)
class Suspended:
    """One line of suspended movements."""

    line: str
    litres20_ul: int
    pure_ul: int
    movements: Mapping[int, int]


def suspended(span: Span) -> list[Suspended]:
    """The three lines, those at nothing too. Two queries."""
    legs = list(
        Leg.objects.filter(
            span.holds(),
            account__name__in={name for _, name in _LINE_OF},
            account__kind__in=(AccountKind.SOURCE, AccountKind.REMOVAL),
        )
        .select_related("account")
        .order_by("movement_id", "line")
    )
    litres = _litres(legs)
    sums = {line: [0, 0] for line in LINES}
    moved: dict[str, dict[int, int]] = {line: {} for line in LINES}
    for leg in legs:
        line = _LINE_OF.get((AccountKind(leg.account.kind), leg.account.name))
        if line is None:
            continue
        sign = -1 if leg.account.kind == AccountKind.SOURCE else 1
        sums[line][0] += sign * litres[leg.pk]
        sums[line][1] += sign * leg.pure_ul
        moved[line][leg.movement_id] = moved[line].get(leg.movement_id, 0) + sign * leg.pure_ul
    return [Suspended(line, sums[line][0], sums[line][1], moved[line]) for line in LINES]


def _litres(legs: list[Leg]) -> dict[int, int]:
    """Litres of each leg with its sign: as measured or labelled where one flow says it, else by alcohol and mass."""
    flows: dict[tuple[int, int | None], list[tuple[int, int]]] = {}
    for movement, giver, taker, litres20_ul, pure_ul in MeasuredFlow.objects.filter(
        movement__in={leg.movement_id for leg in legs}
    ).values_list("movement_id", "giver_id", "taker_id", "litres20_ul", "pure_ul"):
        for account in (giver, taker):
            flows.setdefault((movement, account), []).append((litres20_ul, pure_ul))
    found = {}
    for leg in legs:
        sign = -1 if leg.pure_ul < 0 else 1
        measured = [
            one for one, pure_ul in flows.get((leg.movement_id, leg.account_id), ()) if pure_ul == abs(leg.pure_ul)
        ]
        if measured:
            found[leg.pk] = sign * abs(measured[0])
            continue
        state = litres_and_percent_of(pure_ul=abs(leg.pure_ul), mass_g=abs(leg.mass_g))
        found[leg.pk] = sign * round(state[0] * MICRO) if state is not None else 0
    return found
