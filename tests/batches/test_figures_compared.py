"""The figures each step hands over to be compared with its kind, worked by hand on the plain plant.

A litre a millimetre, everything at 20 °C, so an average strength and a share are plain arithmetic. Amounts are
invented.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from batches.models import Record
from batches.records import recording
from batches.records.readings import add_readings
from batches.steps.shared.figures import Compared
from distillery.people.models import Person
from ledger.models import Figure, Gauge, Movement

from .figures_of_steps import DECLARED, FERMENTATION, TRANSFER, Write, figures_of, filled, malt, pitched, values_of
from .posted_steps import SPIRIT_CHARGE, SPIRIT_FINISH
from .tiny_plant import gauge

__all__ = ["filled", "malt", "pitched"]


def test_a_fermentation_beside_its_mash_its_log_and_its_malt(write: Write, pitched: Record, staff: Person) -> None:
    add_readings(pitched, [("2027-03-03T23:00", "gravity", "0.9986"), ("2027-03-04T05:00", "gravity", "0.9983")], staff)
    write("fermentation", "FE0001", **DECLARED)
    found = figures_of("FE0001")
    original = found["original gravity beside the wort"]
    assert (original.value_millionths, original.expected_millionths) == (1_060_000, 1_060_500)
    final = found["final gravity beside the last logged"]
    assert (final.value_millionths, final.expected_millionths) == (998_000, 998_300)
    # Half a degree as usual, one more reading's 0.0002, and 0.0003 in six hours going on for six more.
    assert final.spread_millionths == pytest.approx((500**2 + 200**2 + 300**2) ** 0.5, abs=1)
    assert values_of("FE0001")["wash beside the wort"] == pytest.approx(100.0)
    # 81.84 litres of pure alcohol (62 degrees by 0.132) of 82 promised: 200 kg at 410 a tonne.
    assert values_of("FE0001")["share of the predicted yield"] == pytest.approx(100 * 81.84 / 82.0, abs=1e-4)


@pytest.mark.parametrize("dip", ["500", "2000"])
def test_a_mash_shared_between_washbacks_is_not_held_against_either(write: Write, malt: None, dip: str) -> None:
    write("fermentation", "FE0001", **FERMENTATION, **DECLARED | {"final_dip_mm": dip})
    assert set(figures_of("FE0001")) == {"original gravity beside the wort"}


def test_an_old_reading_says_nothing_of_the_final_gravity(write: Write, pitched: Record, staff: Person) -> None:
    add_readings(pitched, [("2027-03-03T11:00", "gravity", "1.0100")], staff)
    write("fermentation", "FE0001", **DECLARED)
    assert "final gravity beside the last logged" not in figures_of("FE0001")


def test_a_corrected_mash_is_held_against_its_fermentation_anew(write: Write, pitched: Record, staff: Person) -> None:
    write("fermentation", "FE0001", **DECLARED)
    mash = Record.objects.get(number="MA0001")
    recording.correct(mash, {"wort_gravity": "1.0599"}, person=staff, reason="misread")
    assert figures_of("FE0001")["original gravity beside the wort"].expected_millionths == 1_059_900
    assert Movement.objects.filter(record_number="FE0001", corrections__isnull=True, corrects__isnull=True).count() == 1


def test_a_struck_reading_no_longer_counts(write: Write, pitched: Record, staff: Person) -> None:
    rows = [("2027-03-04T00:00", "gravity", "0.9983"), ("2027-03-04T05:00", "gravity", "0.9893")]
    [_right, wrong] = add_readings(pitched, rows, staff, sure=True)
    write("fermentation", "FE0001", **DECLARED)
    assert figures_of("FE0001")["final gravity beside the last logged"].expected_millionths == 989_300
    recording.strike_reading(wrong, person=staff, reason="misread")
    assert figures_of("FE0001")["final gravity beside the last logged"].expected_millionths == 998_300
    # A reading written later was no part of what was declared, and a temperature is none of it.
    movements = Movement.objects.count()
    late = [("2027-03-04T10:00", "gravity", "0.9981"), ("2027-03-04T10:00", "celsius", "30")]
    [_gravity, celsius] = add_readings(pitched, late, staff)
    recording.strike_reading(celsius, person=staff, reason="another washback", value="28")
    assert Movement.objects.count() == movements


def test_a_wash_run(write: Write, pitched: Record, opened: Callable[..., Record]) -> None:
    write("fermentation", "FE0001", **DECLARED)
    opened("LW", "100", "20.0")
    write(
        "wash_run",
        "WR0001",
        still="WS",
        fermentation="FE0001",
        washback="WB",
        charged_at="2027-03-04T12:00",
        washback_before_dip_mm="1000",
        washback_before_celsius="20",
        washback_after_dip_mm="0",
        receiver="LW",
        **gauge("receiver_before", "100", "20.0"),
        ended_at="2027-03-04T18:30",
        **gauge("receiver_after", "400", "23.0"),
        pot_ale_litres="680",
        pot_ale_percent="0.1",
    )
    assert values_of("WR0001") == pytest.approx(
        {
            # 92 less 20 litres of pure alcohol in 300 litres.
            "average strength of the low wines": 24.0,
            "pot ale of the charge": 68.0,
            "pot ale strength": 0.1,
            "run time": 6.5,
        },
        abs=1e-3,
    )
    assert {one.like for one in figures_of("WR0001").values()} == {"WS"}


def test_a_spirit_run(write: Write, opened: Callable[..., Record]) -> None:
    opened("LW", "1000", "24.0")
    opened("FE", "500", "36.0")
    write("spirit_run", "SR0001", **SPIRIT_CHARGE)
    assert figures_of("SR0001") == {}
    write("spirit_run", "SR0001", **SPIRIT_FINISH)
    charged = (240.0 - 10.0) + (180.0 - 7.2)
    assert values_of("SR0001") == pytest.approx(
        {
            "average strength of the cut": 70.0,
            "share of the charge in the cut": 100 * 196.0 / charged,
            "average strength of the feints": 36.0,
            "charge": 1440.0,
            "spent lees of the charge": 100 * 600 / 1440,
            "spent lees strength": 0.05,
            "strength at spirit on": 75.0,
            "time to spirit on": 1.0,
            "run time": 6.0,
        },
        abs=1e-3,
    )


def test_a_corrected_cut_strength_is_compared_anew(
    write: Write, opened: Callable[..., Record], staff: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened("LW", "1000", "24.0")
    opened("FE", "500", "36.0")
    run = write("spirit_run", "SR0001", **SPIRIT_CHARGE | SPIRIT_FINISH)
    recording.correct(run, {"cut_on_percent": "74.5"}, person=staff, reason="slip of the pen")
    assert values_of("SR0001")["strength at spirit on"] == 74.5
    # In a closed month a figure that is only compared is not worth an entry that moves no alcohol.
    monkeypatch.setattr("batches.records.posting.is_closed", lambda period: True)
    recording.correct(run, {"cut_on_percent": "74.0"}, person=staff, reason="again")
    assert values_of("SR0001")["strength at spirit on"] == 74.5


def test_a_third_still_run(write: Write, opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "70.0")
    write(
        "third_still_run",
        "TS0001",
        third_still="TS",
        kind="vodka",
        charged_at="2027-03-08T06:00",
        source="VA",
        **gauge("source_before", "1000", "70.0"),
        **gauge("source_after", "900", "70.0"),
        product_vessel="GI",
        **gauge("product_before", "0"),
        heads_tails_vessel="HT",
        **gauge("heads_tails_before", "0"),
        charcoal_kg="7",
        baskets="4",
        ended_at="2027-03-08T14:00",
        **gauge("product_after", "66", "94.0"),
        **gauge("heads_tails_after", "8", "77.0"),
    )
    assert values_of("TS0001") == pytest.approx(
        {
            "average strength of the product": 94.0,
            "share of the charge in the product": 100 * 62.04 / 70,
            "share of the charge in heads and tails": 100 * 6.16 / 70,
            "charcoal": 10.0,
            "baskets": 4.0,
            "run time": 8.0,
        },
        abs=1e-3,
    )
    assert {one.like for one in figures_of("TS0001").values()} == {"TS vodka"}


def test_a_transfer_beside_the_strength_it_came_from(write: Write, opened: Callable[..., Record]) -> None:
    opened("SP", "300", "70.0")
    write("transfer", "TR0001", **TRANSFER)
    [figure] = figures_of("TR0001").values()
    assert (figure.value_millionths, figure.expected_millionths) == pytest.approx((69_800_000, 70_000_000), abs=2)


def test_a_transfer_into_a_vessel_with_something_in_it(write: Write, opened: Callable[..., Record]) -> None:
    opened("SP", "300", "70.0")
    opened("VA", "300", "70.0")
    write("transfer", "TR0001", **TRANSFER | gauge("to_before", "300", "70.0") | gauge("to_after", "600", "69.9"))
    [figure] = figures_of("TR0001").values()
    assert (figure.value_millionths, figure.expected_millionths) == pytest.approx((69_900_000, 70_000_000), abs=2)


def test_a_reduction_beside_what_mixing_makes(write: Write, opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "71.2")
    # 1,000 litres at 71.2 and water that brings them to 63.5 % vol: 1,121.26 litres, 127.87 kg of water (computed from
    # the formula of OIML R 22:1975), of which a scale in air shows 0.11 % less.
    water = f"{127.87 * (1 - 0.00106):.2f}"
    write(
        "reduction",
        "RE0001",
        at="2027-03-06T09:00",
        vessel="VA",
        **gauge("before", "1000", "71.2"),
        water_kg=water,
        **gauge("after", "1121", "63.5"),
    )
    found = figures_of("RE0001")
    strength, bulk = found["strength beside the mixing"], found["bulk beside the mixing"]
    assert strength.expected_millionths == pytest.approx(63_500_000, abs=2000)
    assert bulk.value_millionths / 1e6 == pytest.approx(100 * 1121 / 1121.26, abs=0.005)
    # What the balance of the alcohol holds already is said once: the bulk is no row of the model.
    assert (strength.parts != "{}", bulk.parts) == (True, "{}")


def test_each_cask_of_a_fill(filled: Record) -> None:
    found = list(Figure.objects.filter(movement__record_number="CF0001").order_by("line"))
    assert [one.name for one in found] == 2 * ["filled of its size", "tare", "strength beside the vat"]
    assert {(one.like, one.beside) for one in found if one.name == "tare"} == {("barrel 200 L", "CF0001")}
    full, tare, strength = found[:3]
    # 0.70549 litres of pure alcohol in a kilogram weighed in air at 63.5 % vol, from the formula of OIML R 22: 199.98
    # litres, and at 63.6 a fiftieth of a per cent more.
    assert full.value_millionths / 1e6 == pytest.approx(100 * 180 * 0.70549 / 0.635 / 200, abs=0.05)
    assert tare.value_millionths == 50_000_000
    assert tare.parts == '{"tare_kg@C1":1.0}'
    assert (strength.value_millionths, strength.expected_millionths) == pytest.approx((63_600_000, 63_500_000), abs=5)


def test_a_regauge(write: Write) -> None:
    write("opening_cask", number="C1", filled_at="2022-03-01T09:00", tare_kg="50", gross_kg="230.2", percent="63.5")
    before = {"at": "2027-03-01T15:00", "cask": "C1", "celsius": "20"}
    write("regauge", "RG0001", **before, tare_kg="50", gross_kg="212.0", hydrometer_percent="62.0")
    found = values_of("RG0001")
    # 127.13 litres of pure alcohol then, and 162 kg at 62 % vol now, five years on.
    now = Gauge.objects.get(movement__record_number="RG0001").pure_ul / 1e6
    assert found["loss a year"] == pytest.approx(100 * (1 - (now / (180.2 * 0.70549)) ** 0.2), abs=0.01)
    assert found["fall in strength a year"] == pytest.approx(1.5 / 5, abs=0.001)
    # The site's band of 1 to 3 % a year, by the table a site starts with.
    assert figures_of("RG0001")["loss a year"].expected_millionths == 2_000_000


def test_a_bottling(write: Write, opened: Callable[..., Record]) -> None:
    opened("BV", "1000", "40.0")
    write(
        "bottling",
        "BO0001",
        at="2027-03-07T09:00",
        vat="BV",
        product="gin",
        lot_code="L1",
        bottle_centilitres="70",
        label_percent="40",
        bottles="990",
        **gauge("vat_before", "1000", "40.0"),
        **gauge("vat_after", "300", "40.0"),
        mean_fill_millilitres="700.6",
        mean_strength_percent="40.1",
    )
    found = figures_of("BO0001")
    # 990 bottles are 693 litres of the 700 that left the vat; 0.6 % is the usual loss a site starts with.
    assert found["bottles beside the drop of the vat"].value_millionths / 1e6 == pytest.approx(99.0, abs=1e-4)
    assert found["bottles beside the drop of the vat"].expected_millionths == 99_400_000
    assert (found["mean fill"].value_millionths, found["mean fill"].expected_millionths) == (700_600_000, 700_000_000)
    assert found["mean strength beside the label"].expected_millionths == 40_000_000


def test_a_figure_that_cannot_be_worked_out_is_left_out(db: None) -> None:
    found = Compared(datetime(2027, 3, 1, tzinfo=UTC))
    found.with_kind("charge", lambda: 1.0 / 0.0, like="SS", field="x", unit="L")
    found.with_kind("charge", lambda: float("inf"), like="SS", field="x", unit="L")
    found.with_kind("charge", lambda: 1440.0, like="SS", field="x", unit="L")
    assert [one.value for one in found.figures] == [1440.0]
