"""What casks, bottles and removals post: legs worked by hand from the tiny plant."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from batches.models import Record
from batches.steps.shared.books import book_without, expected_contents
from distillery.alcoholometry.gauging.gauge import gauge_by_weight
from distillery.plant.models import Vessel
from ledger.models import Account, Movement
from ledger.posting.accounts import vessel_account
from tests.distillery.rules.invented_rate import enter_rate

from .posted_steps import CASKS, FILL, Write, _every_movement_balances, about, legs
from .tiny_plant import gauge

__all__ = ["_every_movement_balances"]


def weighed(row: dict[str, str]) -> float:
    return gauge_by_weight(
        gross_kg=float(row["gross_kg"]), tare_kg=float(row["tare_kg"]), celsius=20.0, hydrometer_percent=63.5
    ).lpa


def test_cask_fill(write: Write, opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "63.5")
    write("cask_fill", "CF0001", CASKS, **FILL)
    first, second = (weighed(row) for row in CASKS)
    assert legs("CF0001") == about(
        vessel__VA=-254.0, vessel__C1=first, vessel__C2=second, difference__cask_fill=254.0 - first - second
    )
    cask = Vessel.objects.get(code="C2").cask
    assert (cask.tare_g, cask.filled_at is not None) == (48_000, True)


def test_regauge_books_evaporation_up_to_the_band_and_the_rest_as_difference(write: Write) -> None:
    write("opening_cask", number="C1", filled_at="2026-03-06T02:00", tare_kg="50", gross_kg="230", percent="63.5")
    filled = weighed(CASKS[0] | {"tare_kg": "50", "gross_kg": "230"})
    write(
        "regauge",
        "RG0001",
        at="2027-03-06T08:00",
        cask="C1",
        tare_kg="50",
        gross_kg="220",
        celsius="20",
        hydrometer_percent="63.0",
    )
    left = gauge_by_weight(gross_kg=220.0, tare_kg=50.0, celsius=20.0, hydrometer_percent=63.0).lpa
    # The site's first band is 1 to 3 % a year, and 365 days and 6 hours are a year of 365.25 days.
    expected = filled * 0.03
    assert legs("RG0001") == about(
        vessel__C1=left - filled, loss__evaporation_in_cask=expected, difference__regauge=filled - left - expected
    )
    cask = Vessel.objects.get(code="C1")
    at = Movement.objects.get(record_number="RG0001").happened_at
    expected_now = expected_contents(cask, at, without="RG0001")
    assert expected_now is not None
    assert expected_now.least_ul == pytest.approx(filled * 0.97e6, abs=1)
    # It is judged against what the middle of the band leaves.
    judged = Movement.objects.get(record_number="RG0001")
    assert judged.judged_against == "what the cask should hold by now"
    assert judged.judged_ul == expected_now.middle_ul == pytest.approx(filled * 0.98e6, abs=1)
    assert book_without(vessel_account(cask), at, "RG0001").pure_ul == pytest.approx(filled * 1e6, abs=1)


def test_a_cask_within_its_band_has_evaporation_only(write: Write) -> None:
    write("opening_cask", number="C1", filled_at="2026-03-06T02:00", tare_kg="50", gross_kg="230", percent="63.5")
    write(
        "regauge",
        "RG0001",
        at="2027-03-06T08:00",
        cask="C1",
        tare_kg="50",
        gross_kg="227",
        celsius="20",
        hydrometer_percent="63.4",
    )
    booked = legs("RG0001")
    assert "difference:regauge" not in booked
    assert booked["loss:evaporation in cask"] == pytest.approx(-booked["vessel:C1"], abs=1e-6)


def test_a_cask_that_gained_is_a_difference_wholly(write: Write) -> None:
    write("opening_cask", number="C1", filled_at="2026-03-06T02:00", tare_kg="50", gross_kg="230", percent="63.5")
    write(
        "regauge",
        "RG0001",
        at="2027-03-06T08:00",
        cask="C1",
        tare_kg="50",
        gross_kg="233",
        celsius="20",
        hydrometer_percent="63.5",
    )
    booked = legs("RG0001")
    assert set(booked) == {"vessel:C1", "difference:regauge"}
    assert booked["vessel:C1"] > 0


def bottling(write: Write, opened: Callable[..., Record]) -> Record:
    opened("BV", "500", "41.4")
    return write(
        "bottling",
        "BO0001",
        at="2027-03-08T08:00",
        vat="BV",
        product="gin",
        lot_code="L27067",
        bottle_centilitres="70",
        label_percent="41.4",
        bottles="600",
        mean_fill_millilitres="700.4",
        **gauge("vat_before", "500", "41.4"),
        **gauge("vat_after", "78", "41.4"),
    )


def test_bottling(write: Write, opened: Callable[..., Record]) -> None:
    bottling(write, opened)
    stock = Account.objects.get(kind="stock")
    # 70 cl at 41.4 % vol is 289 800 microlitres a bottle, exactly.
    assert stock.bottle_pure_ul == 289_800
    booked = legs("BO0001")
    assert booked[stock.code] == 600 * 0.2898
    assert booked["vessel:BV"] == pytest.approx(-422 * 0.414, abs=1e-4)
    assert booked["difference:bottling"] == pytest.approx(422 * 0.414 - 173.88, abs=1e-4)


@pytest.mark.parametrize(("kind", "is_due"), [("home use", True), ("export", False)])
def test_removal(write: Write, opened: Callable[..., Record], kind: str, is_due: bool) -> None:
    enter_rate()
    bottling(write, opened)
    write(
        "removal",
        "RM0001",
        at="2027-03-09T08:00",
        product="Gin",
        bottle_centilitres="70.0",
        label_percent="41.40",
        bottles="60",
        kind=kind,
    )
    stock = Account.objects.get(kind="stock")
    assert legs("RM0001") == {stock.code: -17.388, f"removal:{kind}": 17.388}
    movement = Movement.objects.get(record_number="RM0001")
    assert movement.duties.exists() is is_due
    if is_due:
        due = movement.duties.get()
        assert due.pure_ul == 17_388_000
        assert due.pence == 17.388 * 10_000 * due.rate_pence_hundredths // 1_000_000
        assert due.source
