"""What the machine of random months may post: an operation of each kind from a few whole litres."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from hypothesis import strategies as st

from distillery.plant.models import Kind, Stage, Vessel
from ledger.models import (
    AccountKind,
    Movement,
)
from ledger.posting.accounts import AccountRef, removal, water
from ledger.posting.drafts import Draft, Line

from . import plant

pytestmark = pytest.mark.django_db


# A twelfth of the moments is on one instant, so that entries of the same moment are common; two months are touched.
HOURS = st.one_of(st.just(0), st.integers(0, 60).map(lambda n: n * 12))


LITRES = st.integers(0, 1000)


FIGURES = st.tuples(LITRES, LITRES, LITRES, LITRES)


OPERATIONS = (
    "opening",
    "stock take",
    "run",
    "transfer",
    "reduction",
    "cask fill",
    "racking",
    "regauge",
    "bottling",
    "removal",
)


TANKS = st.sampled_from(("A", "B", "C"))


CASKS = st.sampled_from(("1", "2"))


EXPLANATION = "explanation"


STOCK = AccountRef("stock:gin/70/40", AccountKind.STOCK, "gin, 70 cl", Stage.BOTTLED, None, True, 280_000)


@dataclass
class Record:
    operation: str
    number: str
    movements: list[Movement]
    model: list[int]


def tank(name: str) -> Vessel:
    return plant.vessel(name, stage=Stage.LOW_WINES if name == "A" else Stage.NEW_SPIRIT)


def cask(name: str) -> Vessel:
    return plant.vessel(f"2027/000{name}", kind=Kind.CASK, stage=Stage.MATURING)


def drafts_of(
    operation: str, number: str, hours: float, figures: tuple[int, ...], one: str, barrel: str
) -> list[Draft]:
    """The movements of a record of this operation, in the shape in which its step declares them."""
    a, b, c, d = figures
    first, second, wood = tank(one), tank("C" if one == "B" else "B"), cask(barrel)
    wooden, in_first = plant.vessel_account(wood), plant.vessel_account(first)
    still = plant.vessel_account(plant.vessel("STILL", kind=Kind.STILL, stage=Stage.LOW_WINES))
    apart = plant.difference(operation)
    lines: dict[str, tuple[Line, ...]] = {
        "opening": (plant.left(first, a, plant.source("opening stock")),),
        "stock take": (plant.found(first, a), plant.found(second, b)),
        "transfer": (
            plant.found(first, a),
            plant.found(second, b),
            plant.left(first, c, apart),
            plant.left(second, d, apart),
        ),
        "reduction": (
            plant.found(first, a),
            plant.Moved(water(), in_first, plant.quantity(0, b)),
            plant.left(first, c, apart),
        ),
        "cask fill": (
            plant.found(first, a),
            plant.Moved(in_first, wooden, plant.quantity(b)),
            plant.left(first, c, apart),
        ),
        "racking": (
            plant.found(first, a),
            plant.Moved(wooden, in_first, plant.quantity(b / 2)),
            plant.left(first, c, apart),
        ),
        "regauge": (
            plant.Moved(wooden, plant.loss("evaporation in cask"), plant.quantity(min(a, b) / 10)),
            plant.left(wood, c, apart),
        ),
        "bottling": (
            plant.found(first, a),
            plant.Moved(in_first, STOCK, plant.quantity(b)),
            plant.left(first, c, apart),
        ),
        "removal": (plant.Moved(STOCK, removal("home use"), plant.quantity(a / 2)),),
    }
    if operation != "run":
        return [plant.draft(operation, number, hours, *lines[operation])]
    return [
        plant.draft(
            operation,
            number,
            hours,
            plant.found(first, a),
            plant.left(first, b, still),
            plant.found(second, c),
            moment="charge",
        ),
        plant.draft(
            operation,
            number,
            hours + 6,
            plant.left(second, d, still),
            plant.Moved(still, plant.loss("spent lees"), plant.quantity(1.2)),
            plant.Emptied(still, apart),
        ),
    ]


def explained(number: str, hours: float, apart: AccountRef, pure_ul: int) -> Draft:
    """A part of a difference, put down to a known loss; a surplus the other way."""
    known, amount = plant.loss("evaporation in tank"), plant.quantity(abs(pure_ul) / 1e6)
    giver, taker = (apart, known) if pure_ul > 0 else (known, apart)
    return plant.draft(EXPLANATION, number, hours, plant.Moved(giver, taker, amount, stage=Stage.NEW_SPIRIT))
