"""Lines of known losses: what was lost, of which strength, why, and who answers for it."""

from __future__ import annotations

from distillery.alcoholometry.contents import litres_and_percent_of
from distillery.plant.models import MICRO
from ledger.enquiries.covering import OPERATION
from ledger.enquiries.register.lines import LossLine
from ledger.models import Gauge, Leg, MeasuredFlow


def liquids(legs: list[Leg]) -> dict[int, tuple[float, float]]:
    """Litres and % vol at 20 °C of what was lost, by leg: as measured; as the vessel it left was gauged; as booked."""
    movements = {leg.movement_id for leg in legs}
    measured = {
        (one.movement_id, one.taker_id): (one.litres20_ul / MICRO, one.percent20_millionths / MICRO)
        for one in MeasuredFlow.objects.filter(movement__in=movements)
    }
    strengths = {
        (movement, account): percent20 / MICRO
        for movement, account, percent20 in Gauge.objects.filter(movement__in=movements, percent20_millionths__gt=0)
        .order_by("position")
        .values_list("movement_id", "account_id", "percent20_millionths")
    }
    found: dict[int, tuple[float, float]] = {}
    for leg in legs:
        strength = strengths.get((leg.movement_id, leg.other_id or 0))
        if (leg.movement_id, leg.account_id) in measured:
            found[leg.pk] = measured[leg.movement_id, leg.account_id]
        elif strength is not None:
            found[leg.pk] = abs(leg.pure_ul) / MICRO * 100 / strength, strength
        elif leg.pure_ul * leg.mass_g > 0:
            state = litres_and_percent_of(pure_ul=abs(leg.pure_ul), mass_g=abs(leg.mass_g))
            if state is not None:
                found[leg.pk] = state
    return found


def loss_line(leg: Leg, liquid: tuple[float, float] | None, product: str) -> LossLine:
    """The line of one leg; `liquid` is what `liquids` gave for it."""
    movement = leg.movement
    return LossLine(
        at=movement.took_place_at,
        written_at=movement.written_at,
        record_kind=movement.record_kind,
        record=movement.record_number,
        operation=movement.operation,
        cause=leg.account.name,
        stage=leg.stage,
        product=product or leg.stage,
        pure_ul=leg.pure_ul,
        litres20=liquid[0] if liquid else None,
        percent20=liquid[1] if liquid else None,
        reason=movement.reason or f"booked at the {movement.operation}",
        persons=tuple(one.shown_name for one in (movement.person, movement.second) if one is not None),
        enquiry=movement.moment if movement.operation == OPERATION else "",
        movement=movement.pk,
    )
