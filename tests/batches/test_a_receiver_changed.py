"""A receiver that is changed while a run is on: what it posts, what is compared, what is refused, what follows it.

Worked by hand on the plain plant: a litre a millimetre, everything read at 20 °C, so 1,000 mm that show 50.0 hold 500
litres of pure alcohol. All figures are invented. Litres of pure alcohol.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from batches.loading.load_folder import load_folder
from batches.models import Link, Record, State
from batches.records import recording
from batches.running.filling import gauges_of, taken_by
from batches.running.runs import runs_of
from batches.sheets.typed.read_sheet import Unfit
from distillery.people.models import Person
from distillery.plant.models import MICRO, CalibrationPoint, Purpose, Stage, Vessel
from distillery.plant.models import Kind as VesselKind
from distillery.seals.writing import signed
from ledger.comparing.model.equations import equations_of
from ledger.comparing.observations.from_ledger import log_of
from ledger.enquiries.following import deferred
from ledger.models import Figure, Gauge, Movement
from ledger.proof.proving import prove

from .posted_steps import SPIRIT_CHARGE, SPIRIT_FINISH, _every_movement_balances, about, book, fermented, legs
from .test_shared_gauges import WASH, WASH_END
from .tiny_month import LOG, write_folder
from .tiny_plant import HIGHEST_MM, gauge

__all__ = ["_every_movement_balances", "fermented"]

Write = Callable[..., Record]
NEXT = (
    ("SP2", Stage.NEW_SPIRIT, Purpose.SPIRIT),
    ("LW2", Stage.LOW_WINES, Purpose.LOW_WINES),
    ("GI2", Stage.RECTIFIED, ""),
)
CHARGED = (240.0 - 10.0) + (180.0 - 7.2)
CHANGE = {
    "spirit_receiver_changed_at": "2027-03-05T11:00",
    **gauge("spirit_receiver_filled", "180", "72.0"),
    "next_spirit_receiver": "SP2",
    **gauge("next_spirit_receiver_before", "10", "70.0"),
}
# What both receivers took: 180 L at 72.0, then from 10 L to 110 L at 68.0 and 70.0.
FIRST, SECOND = 129.6, 110 * 0.68 - 7.0
FINISH = SPIRIT_FINISH | gauge("spirit_after", "110", "68.0")


@pytest.fixture
def next_ones(opened: Callable[..., Record]) -> None:
    _more()
    opened("LW", "1000", "24.0")
    opened("FE", "500", "36.0")
    opened("SP2", "10", "70.0")


@signed("tests")
def _more() -> None:
    for order, (code, stage, purpose) in enumerate(NEXT, start=100):
        vessel = Vessel.objects.create(
            code=code,
            name=f"{code} receiver",
            kind=VesselKind.RECEIVER,
            stage=stage,
            purpose=purpose,
            order=order,
            capacity_ul=5000 * MICRO,
        )
        CalibrationPoint.objects.create(vessel=vessel, dip_um=0, volume_ul=0)
        CalibrationPoint.objects.create(vessel=vessel, dip_um=HIGHEST_MM * 1000, volume_ul=HIGHEST_MM * MICRO)


CHARGE = (
    SPIRIT_CHARGE
    | {"low_wines_receiver": "LW", "spirit_receiver": "SP"}
    | gauge("feints_receiver_before", "20", "36.0")
)
FEINTS, LEES = 201.6 - 7.2, 0.3


def figures_of(number: str) -> dict[str, float]:
    rows = Figure.objects.filter(movement__record_number=number).values_list("name", "value_millionths")
    return {name: value / MICRO for name, value in rows}


def test_charge_change_and_finish_post_in_turn(next_ones: None, write: Write) -> None:
    write("spirit_run", "SR0001", **CHARGE)
    record = write("spirit_run", "SR0001", **CHANGE)
    assert record.state == State.OPEN
    assert legs("SR0001", "spirit_receiver_changed") == about(vessel__SS=-FIRST, vessel__SP=FIRST)
    record = write("spirit_run", "SR0001", **FINISH)
    assert record.state == State.COMPLETE
    left = CHARGED - FIRST
    assert legs("SR0001", "finish") == about(
        vessel__SS=-left,
        vessel__SP2=SECOND,
        vessel__FE=FEINTS,
        loss__spent_lees=LEES,
        difference__spirit_run=left - SECOND - FEINTS - LEES,
    )
    assert (book("SS"), book("SP"), book("SP2")) == (0, pytest.approx(FIRST), pytest.approx(7.0 + SECOND))
    # Conservation: what was charged is what both receivers, the feints, the lees and the difference come to.
    whole: dict[str, float] = {}
    for moment in ("spirit_receiver_changed", "finish"):
        for account, lpa in legs("SR0001", moment).items():
            whole[account] = whole.get(account, 0.0) + lpa
    assert sum(whole.values()) == pytest.approx(0.0, abs=1e-6)
    assert -whole["vessel:SS"] == pytest.approx(CHARGED, abs=1e-4)
    assert prove().broken == []


def test_all_of_it_saved_at_once_posts_the_same(next_ones: None, write: Write) -> None:
    write("spirit_run", "SR0001", **CHARGE, **CHANGE, **FINISH)
    assert legs("SR0001", "spirit_receiver_changed") == about(vessel__SS=-FIRST, vessel__SP=FIRST)
    assert book("SS") == 0
    assert [one.moment for one in Movement.objects.filter(record_number="SR0001").order_by("pk")] == [
        "charge",
        "spirit_receiver_changed",
        "finish",
    ]


def test_the_cut_is_compared_over_both_receivers(next_ones: None, write: Write) -> None:
    write("spirit_run", "SR0001", **CHARGE, **CHANGE, **FINISH)
    found = figures_of("SR0001")
    # 180 L at 72.0 % and 100 L more in the second: 129.6 + 67.8 in 280 L.
    assert found["average strength of the cut"] == pytest.approx(100 * (FIRST + SECOND) / 280, abs=1e-6)
    assert found["share of the charge in the cut"] == pytest.approx(100 * (FIRST + SECOND) / CHARGED, abs=1e-6)


def test_the_run_is_one_balance_with_both_receivers(next_ones: None, write: Write) -> None:
    write("spirit_run", "SR0001", **CHARGE, **CHANGE, **FINISH)
    balance = next(one for one in equations_of(log_of("2027-03")) if one.key == "operation:SR0001")
    factors = {term.quantity.split("/")[-1]: term.factor for term in balance.terms}
    assert {name: factor for name, factor in factors.items() if "spirit" in name} == {
        "spirit_before": 1.0,
        "spirit_receiver_filled": -1.0,
        "next_spirit_receiver_before": 1.0,
        "spirit_after": -1.0,
    }
    assert "SR0001/SP2/spirit_after" in {term.quantity for term in balance.terms}


def test_what_was_made_of_it_is_traced_in_both(next_ones: None, write: Write) -> None:
    write("spirit_run", "SR0001", **CHARGE, **CHANGE, **FINISH)
    write(
        "transfer",
        "TR0001",
        from_vessel="SP2",
        to_vessel="VA",
        at="2027-03-06T09:00",
        **gauge("from_before", "110", "68.0"),
        **gauge("from_after", "0"),
        **gauge("to_before", "0"),
        **gauge("to_after", "110", "68.0"),
    )
    link = Link.objects.get(giver__number="SR0001", taker__number="TR0001")
    assert link.pure_ul / MICRO == pytest.approx(SECOND, abs=1e-4)


def test_a_change_that_was_forgotten_comes_in_by_a_correction(next_ones: None, write: Write, staff: Person) -> None:
    record = write("spirit_run", "SR0001", **CHARGE, **SPIRIT_FINISH)
    with pytest.raises(Unfit, match="starts from what came before; write the change of spirit receiver by correcting"):
        write("spirit_run", "SR0001", **CHANGE)
    recording.correct(record, CHANGE | gauge("spirit_after", "110", "68.0"), person=staff, reason="SP was full")
    standing = Movement.objects.standing().filter(record_number="SR0001")
    assert sorted(one.moment for one in standing) == ["charge", "finish", "spirit_receiver_changed"]
    assert (book("SS"), book("SP"), book("SP2")) == (0, pytest.approx(FIRST), pytest.approx(7.0 + SECOND))
    assert prove().broken == []


def test_a_change_put_right_posts_the_finish_anew(next_ones: None, write: Write, staff: Person) -> None:
    record = write("spirit_run", "SR0001", **CHARGE, **CHANGE, **FINISH)
    recording.correct(
        record, {"spirit_receiver_filled_dip_mm": "190"}, person=staff, reason="read one mark short, one centimetre"
    )
    assert book("SP") == pytest.approx(190 * 0.72)
    assert book("SS") == 0
    left = Movement.objects.standing().filter(record_number="SR0001", moment="finish").get()
    difference = {leg.account.code: leg.pure_ul / MICRO for leg in left.legs.all()}["difference:spirit run"]
    assert difference == pytest.approx(CHARGED - 190 * 0.72 - SECOND - FEINTS - LEES, abs=1e-4)


def test_a_run_without_a_change_is_complete(next_ones: None, write: Write) -> None:
    assert write("spirit_run", "SR0001", **CHARGE, **SPIRIT_FINISH).state == State.COMPLETE
    assert prove().broken == []


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"next_spirit_receiver": "SP"}, "SP is the one it was changed from; name the one that takes its place"),
        ({"spirit_receiver_changed_at": "2027-03-05T15:00"}, "15:00, after ended at"),
        ({"spirit_receiver_changed_at": ""}, "Spirit receiver changed at is blank, but spirit_receiver_filled_dip_mm"),
        ({"next_spirit_receiver": "GI2"}, "SP2|new spirit"),
        ({"next_spirit_receiver_before_dip_mm": ""}, "it is needed for the change of spirit receiver"),
    ],
)
def test_what_cannot_be_is_refused(next_ones: None, write: Write, said: dict[str, str], sentence: str) -> None:
    with pytest.raises(Unfit, match=sentence):
        write("spirit_run", "SR0001", **CHARGE | CHANGE | FINISH | said)


def test_a_receiver_nobody_gauged_when_it_was_full(next_ones: None, write: Write) -> None:
    missing = dict.fromkeys(gauge("spirit_receiver_filled", "1", "1"), "missing")
    write("spirit_run", "SR0001", **CHARGE, **CHANGE | missing, **FINISH)
    # What went into it is in the difference until it is gauged again.
    assert legs("SR0001", "finish")["difference:spirit run"] == pytest.approx(CHARGED - SECOND - FEINTS - LEES)


def test_both_receivers_changed_in_any_order(next_ones: None, write: Write) -> None:
    feints = {
        "feints_receiver_changed_at": "2027-03-05T09:30",
        **gauge("feints_receiver_filled", "50", "36.0"),
        "next_feints_receiver": "LW2",
        **gauge("next_feints_receiver_before", "0"),
    }
    write(
        "spirit_run", "SR0001", **CHARGE, **CHANGE, **feints, **FINISH | gauge("feints_receiver_after", "500", "36.0")
    )
    assert (book("FE"), book("LW2"), book("SS")) == (pytest.approx(18.0), pytest.approx(180.0), 0)
    assert prove().broken == []


def test_a_wash_run_changes_its_receiver(fermented: Record, next_ones: None, write: Write) -> None:
    change = {
        "receiver_changed_at": "2027-03-04T15:00",
        **gauge("receiver_filled", "1200", "24.0"),
        "next_receiver": "LW2",
        **gauge("next_receiver_before", "0"),
    }
    before = gauge("receiver_before", "1000", "24.0")
    write("wash_run", "WR0001", **WASH | before, **change, **WASH_END | gauge("receiver_after", "130", "22.0"))
    assert (book("LW"), book("LW2"), book("WS")) == (pytest.approx(288.0), pytest.approx(28.6), 0)
    left = 81.84 - 48.0
    assert legs("WR0001", "finish") == about(
        vessel__WS=-left, vessel__LW2=28.6, loss__pot_ale=0.7, difference__wash_run=left - 28.6 - 0.7
    )


def test_a_third_still_run_changes_its_product_vessel(
    next_ones: None, write: Write, opened: Callable[..., Record]
) -> None:
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
        product_vessel_changed_at="2027-03-06T10:00",
        **gauge("product_vessel_filled", "40", "80.0"),
        next_product_vessel="GI2",
        **gauge("next_product_vessel_before", "0"),
        ended_at="2027-03-06T12:00",
        **gauge("product_after", "35", "78.0"),
        **gauge("heads_tails_after", "10", "76.0"),
    )
    assert (book("GI"), book("GI2"), book("TS")) == (pytest.approx(32.0), pytest.approx(27.3), 0)
    found = figures_of("TS0001")
    assert found["average strength of the product"] == pytest.approx(100 * 59.3 / 75, abs=1e-6)
    assert found["share of the charge in the product"] == pytest.approx(100 * 59.3 / 70, abs=1e-6)


@pytest.fixture
def compared_once() -> Iterator[None]:
    """The month of all examples together is compared once, when they have all been written."""
    with deferred():
        yield


@pytest.mark.usefixtures("compared_once")
@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    filled=st.integers(1, 400),
    remnant=st.integers(0, 200),
    more=st.integers(0, 300),
    percents=st.tuples(*(st.integers(600, 760).map(lambda tenths: f"{tenths / 10:.1f}") for _ in range(3))),
)
def test_nothing_is_made_or_lost_by_a_change(
    next_ones: None, write: Write, filled: int, remnant: int, more: int, percents: tuple[str, str, str]
) -> None:
    number = f"SR{Record.objects.count() + 1:04d}"
    day = f"2027-03-{Record.objects.count() % 20 + 6:02d}"
    times = {
        "charged_at": f"{day}T08:00",
        "spirit_receiver_changed_at": f"{day}T11:00",
        "spirit_on_at": f"{day}T09:00",
        "ended_at": f"{day}T14:00",
    }
    write(
        "spirit_run",
        number,
        **CHARGE
        | FINISH
        | CHANGE
        | gauge("spirit_receiver_filled", str(filled), percents[0])
        | gauge("next_spirit_receiver_before", str(remnant), percents[1])
        | gauge("spirit_after", str(remnant + more), percents[2])
        | times,
    )
    gauges = {one.name: one.pure_ul for one in Gauge.objects.standing().filter(movement__record_number=number)}
    took = gauges["spirit_receiver_filled"] - gauges["spirit_before"]
    took += gauges["spirit_after"] - gauges["next_spirit_receiver_before"]
    took += gauges["feints_receiver_after"] - gauges["feints_receiver_before"]
    gave = sum(gauges[f"{one}_before"] - gauges[f"{one}_after"] for one in ("low_wines", "feints"))
    posted = {
        leg.account.code: leg.pure_ul
        for movement in Movement.objects.filter(record_number=number, moment="finish")
        for leg in movement.legs.all()
    }
    assert posted["difference:spirit run"] == gave - took - posted["loss:spent lees"]


def test_a_log_may_say_so_in_columns_of_its_own(db: None, tmp_path: Path) -> None:
    head, row, _ = LOG["spirit_runs"].split("\n")
    change = {
        "spirit_receiver_changed_at": "2027-03-04T20:00",
        **gauge("spirit_receiver_filled", "180", "72.0"),
        "next_spirit_receiver": "V1",
        **gauge("next_spirit_receiver_before", "1000", "63.5"),
    }
    row = row.replace("280,20,70,560", "1100,20,64.0,560")
    table = f"{','.join([head, *change])}\n{','.join([row, *change.values()])}\n"
    load_folder(write_folder(tmp_path, spirit_runs=table, transfers=None, cask_fills=None, stock_take=None))
    assert legs("SR0001", "spirit_receiver_changed")["vessel:S1"] == pytest.approx(129.6, abs=1e-3)
    assert legs("SR0001", "finish")["vessel:V1"] == pytest.approx(1100 * 0.64 - 635.0, abs=1e-3)
    assert prove().broken == []


def test_litres_of_the_picture_are_those_of_both_receivers(next_ones: None, write: Write) -> None:
    record = write("spirit_run", "SR0001", **CHARGE, **CHANGE, **FINISH)
    run = runs_of([record])[0]
    taken = taken_by(run, gauges_of([run]))
    # 180 mm in the first, from 10 to 110 in the second; what the feints receiver took is its own.
    assert taken["spirit_receiver"] == pytest.approx(180.0, abs=1e-6)
    assert taken["next_spirit_receiver"] == pytest.approx(100.0, abs=1e-6)
    assert set(taken) == {"feints_receiver", "spirit_receiver", "next_spirit_receiver"}
    assert taken["feints_receiver"] is not None
