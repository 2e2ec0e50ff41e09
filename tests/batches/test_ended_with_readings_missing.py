"""A record that stands in the way is ended, what nobody read of it marked missing, so that nobody is kept from writing
down what happened. The plant is invented: a litre a millimetre, and a hydrometer that shows the strength at 20 °C.
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from batches.models import Record, State, Version
from batches.records import recording
from batches.records.recording import save
from batches.records.versions import typed_of
from batches.sheets.typed.read_sheet import Unfit
from ledger.enquiries.following import catch_up
from ledger.enquiries.models import Enquiry
from ledger.models import Account, Leg, Movement

from .tiny_plant import gauge

NOW = datetime(2027, 3, 20, 12, tzinfo=UTC)
CHARGE = {
    "still": "SS",
    "low_wines_receiver": "LW",
    "feints_receiver": "FE",
    "spirit_receiver": "SP",
    "charged_at": "2027-03-04T06:00",
    **gauge("low_wines_before", "2000", "24.0"),
    **gauge("low_wines_after", "1000", "24.0"),
    **gauge("feints_before", "800", "36.0"),
    **gauge("feints_after", "300", "36.0"),
    **gauge("spirit_before", "0"),
    **gauge("feints_receiver_before", "300", "36.0"),
}
# Of the next run: what the first one left.
NEXT = CHARGE | {
    "charged_at": "2027-03-04T20:00",
    **gauge("low_wines_before", "1000", "24.0"),
    **gauge("low_wines_after", "0"),
    **gauge("feints_before", "700", "36.0"),
    **gauge("feints_after", "300", "36.0"),
    **gauge("spirit_before", "250", "70.0"),
}
MISSING_FROM_A_RUN = {
    "spirit_after_dip_mm",
    "spirit_after_celsius",
    "spirit_after_hydrometer_percent",
    "feints_receiver_after_dip_mm",
    "feints_receiver_after_celsius",
    "feints_receiver_after_hydrometer_percent",
    "spent_lees_litres",
    "spent_lees_percent",
}


@pytest.fixture
def charged(write, opened) -> Record:
    opened("LW", "2000", "24.0")
    opened("FE", "800", "36.0")
    return write("spirit_run", None, **CHARGE)


def held(code: str) -> int:
    account = Account.objects.get(code=f"vessel:{code}")
    return sum(Leg.objects.filter(account=account).values_list("pure_ul", flat=True))


def test_the_refusal_names_the_record_in_the_way(charged, staff):
    with pytest.raises(Unfit) as caught:
        save("spirit_run", None, NEXT, person=staff, now=NOW, sure=True)
    (problem,) = caught.value.problems
    assert (problem.field, problem.in_the_way) == ("still", charged.number)


def test_it_is_ended_as_the_next_begins_with_what_nobody_read_marked_missing(charged, staff):
    new = save("spirit_run", None, NEXT, person=staff, now=NOW, sure=True, ending=charged.number)
    charged.refresh_from_db()
    assert charged.state == State.COMPLETE
    assert charged.happened_to == new.happened_from == datetime(2027, 3, 4, 20, tzinfo=UTC)
    typed, _ = typed_of(Version.objects.filter(record=charged).latest("serial"))
    assert {name for name, text in typed.items() if text == "missing"} == MISSING_FROM_A_RUN
    # All of the charge, 1,000 L at 24 % and 500 L at 36 %, is the difference of the run: 240 and 180 LPA.
    lost = Leg.objects.get(account__code="difference:spirit run", movement__record_number=charged.number)
    assert lost.pure_ul == 420_000_000
    # What the run gave is found at the next gauges of the receivers: 250 L at 70 %, and 400 L at 36 % more of feints.
    found = Leg.objects.filter(account__code__startswith="difference:gauging", movement__record_number=new.number)
    assert sorted(-leg.pure_ul for leg in found) == [144_000_000, 175_000_000]
    assert held("SS") == 240_000_000 + 144_000_000


def test_what_is_missing_is_looked_into(charged, staff):
    save("spirit_run", None, NEXT, person=staff, now=NOW, sure=True, ending=charged.number)
    catch_up()
    assert Enquiry.objects.filter(record_number=charged.number).exists()


def test_the_readings_can_still_be_written_when_they_turn_up(charged, staff):
    save("spirit_run", None, NEXT, person=staff, now=NOW, sure=True, ending=charged.number)
    turned_up = {
        **gauge("spirit_after", "250", "70.0"),
        **gauge("feints_receiver_after", "700", "36.0"),
        "spent_lees_litres": "840",
        "spent_lees_percent": "0",
    }
    recording.correct(charged, turned_up, person=staff, reason="the sheet was found", now=NOW, sure=True)
    lost = Leg.objects.filter(account__code="difference:spirit run", movement__record_number=charged.number)
    assert sum(leg.pure_ul for leg in lost) == 420_000_000 - 175_000_000 - 144_000_000


def test_nothing_is_ended_where_the_new_record_cannot_be_written(charged, staff):
    before = Movement.objects.count(), Version.objects.count()
    with pytest.raises(Unfit):
        save("spirit_run", None, NEXT | {"still": "X"}, person=staff, now=NOW, sure=True, ending=charged.number)
    assert (Movement.objects.count(), Version.objects.count()) == before
    charged.refresh_from_db()
    assert charged.state == State.OPEN


def test_one_that_has_ended_meanwhile_is_said(charged, staff):
    with pytest.raises(Unfit, match="SR0009 has ended meanwhile; save again"):
        save("spirit_run", None, NEXT, person=staff, now=NOW, sure=True, ending="SR0009")


def test_what_begins_a_record_cannot_be_missing(write, opened, staff):
    opened("LW", "2000", "24.0")
    with pytest.raises(Unfit) as caught:
        save("spirit_run", None, CHARGE | {"low_wines_before_dip_mm": "missing"}, person=staff, now=NOW, sure=True)
    assert [one.field for one in caught.value.problems] == ["low_wines_before_dip_mm"]


def test_a_fermentation_that_was_never_declared_leaves_nothing_in_the_books(write, staff):
    write("intake", "M001", received_at="2027-03-01T05:00", kilograms="10000")
    for number, hour in (("MA0001", "06"), ("MA0002", "12")):
        write(
            "mash",
            number,
            started_at=f"2027-03-01T{hour}:00",
            ended_at=f"2027-03-01T{hour}:30",
            malt_lot="M001",
            grist_kg="200",
            wort_litres="1000",
            wort_gravity="1.0600",
            wort_celsius="20",
            washback="WB",
        )
    pitched = {"mash": "MA0001", "washback": "WB", "pitched_at": "2027-03-01T11:00", "original_gravity": "1.0600"}
    first = write("fermentation", None, **pitched)
    after = pitched | {"mash": "MA0002", "pitched_at": "2027-03-04T11:00"}
    save("fermentation", None, after, person=staff, now=NOW, sure=True, ending=first.number)
    first.refresh_from_db()
    assert first.state == State.COMPLETE
    assert not Movement.objects.filter(record_number=first.number).exists()
