"""What is typed for a run and a fill of the tiny plant, and the legs they leave. All figures are invented."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from batches.models import Record
from ledger.models import Balance, Leg, Movement

from .tiny_plant import gauge

Write = Callable[..., Record]


def legs(number: str, moment: str = "") -> dict[str, float]:
    """What a record's entries did to each account, litres of pure alcohol; accounts left as they were are left out."""
    found: dict[str, int] = {}
    entries = Leg.objects.filter(movement__record_number=number)
    if moment:
        entries = entries.filter(movement__moment=moment)
    for code, pure_ul in entries.values_list("account__code", "pure_ul"):
        found[code] = found.get(code, 0) + pure_ul
    return {code: pure_ul / 1e6 for code, pure_ul in found.items() if pure_ul}


def about(**litres: float) -> dict[str, Any]:
    """Accounts with amounts to a tenth of a millilitre: whole microlitres are rounded a gauge at a time."""
    return {code.replace("__", ":").replace("_", " "): pytest.approx(pure, abs=1e-4) for code, pure in litres.items()}


def book(code: str) -> float:
    return Balance.objects.get(account__code=f"vessel:{code}").balance_ul / 1e6


@pytest.fixture(autouse=True)
def _every_movement_balances(plain_plant: None) -> Iterator[None]:
    yield
    for movement in Movement.objects.all():
        assert sum(movement.legs.values_list("pure_ul", flat=True)) == 0
        assert sum(movement.legs.values_list("mass_g", flat=True)) == 0


@pytest.fixture
def fermented(write: Write) -> Record:
    """A washback of 1,000 litres that fell from 1.0600 to 0.9980: 8.184 % vol, 81.84 litres of pure alcohol."""
    write("intake", "M001", received_at="2027-03-01T06:00", kilograms="10000")
    write(
        "mash",
        "MA0001",
        started_at="2027-03-01T06:00",
        ended_at="2027-03-01T11:00",
        malt_lot="M001",
        grist_kg="500",
        wort_litres="1000",
        wort_gravity="1.0600",
        wort_celsius="18",
        washback="WB",
    )
    return write(
        "fermentation",
        "FE0001",
        mash="MA0001",
        washback="WB",
        yeast_lot="Y1",
        yeast_kg="5",
        pitched_at="2027-03-01T11:00",
        original_gravity="1.0600",
        ended_at="2027-03-04T11:00",
        final_gravity="0.9980",
        final_dip_mm="1000",
        final_celsius="20",
    )


SPIRIT_CHARGE = {
    "still": "SS",
    "charged_at": "2027-03-05T08:00",
    "low_wines_receiver": "LW",
    "feints_receiver": "FE",
    "spirit_receiver": "SP",
    **gauge("low_wines_before", "1000", "24.0"),
    **gauge("low_wines_after", "40", "25.0"),
    **gauge("feints_before", "500", "36.0"),
    **gauge("feints_after", "20", "36.0"),
    **gauge("spirit_before", "0"),
    **gauge("feints_receiver_before", "21", "36.0"),
}


SPIRIT_FINISH = {
    "ended_at": "2027-03-05T14:00",
    "spirit_on_at": "2027-03-05T09:00",
    "cut_on_percent": "75",
    **gauge("spirit_after", "280", "70.0"),
    **gauge("feints_receiver_after", "560", "36.0"),
    "spent_lees_litres": "600",
    "spent_lees_percent": "0.05",
}


CASKS = (
    {"cask": "C1", "tare_kg": "50.0", "gross_kg": "230.0", "celsius": "20", "hydrometer_percent": "63.5"},
    {"cask": "C2", "tare_kg": "48.0", "gross_kg": "229.0", "celsius": "20", "hydrometer_percent": "63.5"},
)


FILL = {
    "at": "2027-03-07T08:00",
    "vat": "VA",
    **gauge("vat_before", "1000", "63.5"),
    **gauge("vat_after", "600", "63.5"),
}
