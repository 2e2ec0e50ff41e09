"""What each step posts, worked by hand on the plain plant: a litre a millimetre, everything read at 20 °C.

Wash strength is drop x factor by HMRC Excise Notice 226 (62 degrees: 0.132; 60 degrees: 0.132). Other figures are
invented. Amounts are litres of pure alcohol.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from batches.models import Record
from distillery.alcoholometry.gauging.gauge import gauge_by_weight
from ledger.models import Gauge, Leg, Movement

from .posted_steps import SPIRIT_CHARGE, SPIRIT_FINISH, Write, _every_movement_balances, about, book, fermented, legs
from .tiny_plant import gauge

__all__ = ["_every_movement_balances", "fermented"]


def test_opening_stock(opened: Callable[..., Record]) -> None:
    record = opened("VA", "1000", "50.0")
    assert legs(record.number) == about(vessel__VA=500.0, source__opening_stock=-500.0)


def test_opening_cask_at_its_filling(write: Write) -> None:
    record = write(
        "opening_cask", number="C1", filled_at="2022-03-01T09:00", tare_kg="50", gross_kg="230.2", percent="63.5"
    )
    held = gauge_by_weight(gross_kg=230.2, tare_kg=50.0, celsius=20.0, hydrometer_percent=63.5).lpa
    # 0.70549 litres of pure alcohol in a kilogram weighed in air at 63.5 % vol, from the formula of OIML R 22.
    assert held == pytest.approx(180.2 * 0.70549, rel=1e-4)
    assert legs(record.number) == about(vessel__C1=held, source__opening_stock=-held)


def test_opening_bottles(write: Write) -> None:
    record = write(
        "opening_bottled_stock",
        at="2027-03-01T06:00",
        product="gin",
        bottle_centilitres="70",
        label_percent="41.4",
        bottles="100",
    )
    stock = {code: pure for code, pure in legs(record.number).items() if code.startswith("stock:")}
    assert list(stock.values()) == [28.98]


def test_fermentation_enters_with_its_final_gauge(fermented: Record) -> None:
    assert legs("FE0001") == about(vessel__WB=81.84, source__fermentation=-81.84)
    taken = Gauge.objects.get(movement__record_number="FE0001")
    assert (taken.name, taken.role, taken.method) == ("final", "after", "wash dip")
    assert '"original_gravity":"1.0600"' in taken.raw


def test_malt_and_mash_move_no_alcohol(fermented: Record) -> None:
    assert not Movement.objects.filter(record_number__in=["M001", "MA0001"]).exists()


def test_wash_run(write: Write, fermented: Record, opened: Callable[..., Record]) -> None:
    opened("LW", "100", "25.0")
    write(
        "wash_run",
        "WR0001",
        still="WS",
        fermentation="FE0001",
        washback="WB",
        charged_at="2027-03-04T12:00",
        washback_before_dip_mm="995",
        washback_before_celsius="20",
        washback_after_dip_mm="0",
        receiver="LW",
        **gauge("receiver_before", "102", "25.0"),
        ended_at="2027-03-04T18:00",
        **gauge("receiver_after", "412", "25.0"),
        pot_ale_litres="700",
        pot_ale_percent="0.1",
    )
    charge = 995 * 0.08184
    assert legs("WR0001", "charge") == about(
        vessel__WB=-81.84,
        difference__gauging__WB=81.84 - charge,
        vessel__WS=charge,
        vessel__LW=0.5,
        difference__gauging__LW=-0.5,
    )
    low_wines, pot_ale = 310 * 0.25, 0.7
    assert legs("WR0001", "finish") == about(
        vessel__WS=-charge,
        vessel__LW=low_wines,
        loss__pot_ale=pot_ale,
        difference__wash_run=charge - low_wines - pot_ale,
    )


def test_spirit_run(write: Write, opened: Callable[..., Record]) -> None:
    opened("LW", "1000", "24.0")
    opened("FE", "500", "36.0")
    write("spirit_run", "SR0001", **SPIRIT_CHARGE)
    charged = (240.0 - 10.0) + (180.0 - 7.2)
    assert legs("SR0001") == about(
        vessel__LW=-230.0, vessel__FE=-172.8 + 0.36, difference__gauging__FE=-0.36, vessel__SS=charged
    )
    write("spirit_run", "SR0001", **SPIRIT_FINISH)
    spirit, feints, lees = 196.0, 201.6 - 7.56, 0.3
    assert legs("SR0001", "finish") == about(
        vessel__SS=-charged,
        vessel__SP=spirit,
        vessel__FE=feints,
        loss__spent_lees=lees,
        difference__spirit_run=charged - spirit - feints - lees,
    )
    assert book("SS") == 0


def test_the_low_wines_come_from_the_vessel_kept_for_them(write: Write, opened: Callable[..., Record]) -> None:
    opened("LW", "1000", "24.0")
    opened("FE", "500", "36.0")
    values = {name: cell for name, cell in SPIRIT_CHARGE.items() if name != "low_wines_receiver"}
    write("spirit_run", "SR0001", **values)
    assert legs("SR0001")["vessel:LW"] == pytest.approx(-230.0, abs=1e-4)


@pytest.mark.parametrize("spent", [{}, {"spent_charge_litres": "60", "spent_charge_percent": "1.0"}])
def test_third_still_run(write: Write, opened: Callable[..., Record], spent: dict[str, str]) -> None:
    opened("VA", "1000", "70.0")
    write(
        "third_still_run",
        "TS0001",
        kind="gin",
        charged_at="2027-03-06T08:00",
        source="VA",
        product_vessel="GI",
        **gauge("source_before", "1000", "70.0"),
        **gauge("source_after", "900", "70.0"),
        **gauge("product_before", "0"),
        **gauge("heads_tails_before", "0"),
        ended_at="2027-03-06T12:00",
        **gauge("product_after", "75", "80.0"),
        **gauge("heads_tails_after", "10", "76.0"),
        **spent,
    )
    gone = 0.6 if spent else 0.0
    expected = about(
        vessel__VA=-70.0, vessel__GI=60.0, vessel__HT=7.6, difference__third_still_run=70.0 - 60.0 - 7.6 - gone
    )
    if spent:
        expected["loss:spent third-still charge"] = pytest.approx(0.6, abs=1e-4)
    assert legs("TS0001") == expected


def test_transfer_books_what_one_lost_and_the_other_did_not_gain(write: Write, opened: Callable[..., Record]) -> None:
    opened("SP", "500", "70.0")
    opened("VA", "1000", "68.0")
    write(
        "transfer",
        "TR0001",
        at="2027-03-06T08:00",
        from_vessel="SP",
        to_vessel="VA",
        **gauge("from_before", "501", "70.0"),
        **gauge("to_before", "1000", "68.0"),
        **gauge("from_after", "0"),
        **gauge("to_after", "1499", "68.7"),
    )
    gained = 1499 * 0.687 - 680.0
    assert legs("TR0001") == about(
        vessel__SP=-350.0, difference__gauging__SP=-0.7, vessel__VA=gained, difference__transfer=350.7 - gained
    )
    borne = Leg.objects.get(movement__record_number="TR0001", account__code="difference:transfer")
    assert borne.stage == "new spirit"


def test_reduction_adds_mass_and_no_alcohol(write: Write, opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "68.0")
    write(
        "reduction",
        "RE0001",
        at="2027-03-06T08:00",
        vessel="VA",
        target_percent="63.5",
        **gauge("before", "1000", "68.0"),
        water_kg="75.0",
        **gauge("after", "1071", "63.5"),
    )
    assert legs("RE0001") == about(vessel__VA=1071 * 0.635 - 680, difference__reduction=680 - 1071 * 0.635)
    water = Leg.objects.get(movement__record_number="RE0001", account__code="water")
    # 75 kg on the scale is 75.079 kg of water: air lifts it by 1.2/998.2, the weights by 1.2/8000 (OIML D 28).
    assert (water.pure_ul, water.mass_g) == (0, -75079)


def test_stock_take_finds_more_and_less(write: Write, opened: Callable[..., Record], manager: Any, staff: Any) -> None:
    from batches.records import recording

    opened("VA", "1000", "60.0")
    opened("GI", "100", "80.0")
    rows = [
        {"vessel": "VA", **gauge("gauge", "1010", "60.0")},
        {"vessel": "GI", **gauge("gauge", "99", "80.0")},
    ]
    recording.save("stock_take", None, {"at": "2027-03-31T06:00"}, rows, person=staff, second=manager)
    assert legs("ST0001") == about(
        vessel__VA=6.0, difference__gauging__VA=-6.0, vessel__GI=-0.8, difference__gauging__GI=0.8
    )
    assert Movement.objects.get(record_number="ST0001").second == manager
