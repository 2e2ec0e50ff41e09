"""Figures that are asked about before anything is posted. The plant is invented (a litre a millimetre); what is usual,
and how far from the book is far, is common practice, no source.
"""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.models import Reading, Record, Version
from batches.records import recording
from batches.records.asking import Asked, Question, Why
from batches.records.asking.readings import Along, Before, During, Usually, ask_about_readings
from batches.records.readings import add_readings, strike_reading
from batches.records.recording import correct, save
from batches.sheets.fields import gravity, percent, when
from ledger.models import Movement

from . import tiny_plant

NOW = datetime(2027, 3, 20, 12, tzinfo=UTC)
AT = when("at", "Read at")


def transfer(percent: str = "70", dip: str = "300") -> dict[str, str]:
    values = {"at": "2027-03-04 10:00", "from_vessel": "SP", "to_vessel": "VA"}
    for prefix, depth, strength in (
        ("from_before", dip, percent),
        ("from_after", "0", ""),
        ("to_before", "0", ""),
        ("to_after", "300", "70"),
    ):
        values |= tiny_plant.gauge(prefix, depth, strength)
    return values


@pytest.fixture
def move(opened, staff):
    opened("SP", "300", "70")
    opened("VA", "0", "")

    def move(values: dict[str, str], **more) -> Record:
        return save("transfer", None, values, person=staff, now=NOW, **more)

    return move


def asked_by(act, *args, **more):
    counted = Record, Version, Movement, Reading
    before = [model.objects.count() for model in counted]
    with pytest.raises(Asked) as caught:
        act(*args, **more)
    assert [model.objects.count() for model in counted] == before, "nothing is written until it is answered"
    return caught.value.questions


def remarks(record: Record) -> list[str]:
    return [note["sentence"] for note in json.loads(Version.objects.filter(record=record).latest("serial").notes)]


def test_what_is_usual_and_meets_the_book_is_not_asked_about(move):
    assert remarks(move(transfer())) == []


def test_ten_times_too_much_is_asked_about_with_both_figures(staff, write):
    grist = {"received_at": "2027-03-04 10:00", "kilograms": "2700", "moisture_percent": "45"}
    questions = asked_by(save, "intake", "M001", grist, person=staff, now=NOW)
    (question,) = questions
    assert (question.field, question.why, question.said) == ("moisture_percent", Why.UNLIKELY, "45")
    assert (question.keep, question.instead, question.instead_shown) == ("Keep 45 %", "4.5", "It was 4.5 %")
    assert question.sentence.startswith("Moisture: did you mean 4.5?")
    record = save("intake", "M001", grist, person=staff, now=NOW, sure={question.key})
    assert remarks(record) == ["Did you mean 4.5? You typed 45."]
    # An answer holds for what was typed, and for nothing else.
    other = asked_by(save, "intake", "M002", grist | {"moisture_percent": "46"}, person=staff, now=NOW)
    assert other[0].key != question.key


def test_a_gauge_far_from_its_book_offers_the_dip_that_meets_it(move):
    # 30 mm at 70 % are 21 LPA; the book holds 300 L at 70 %, 210 LPA, which a dip of 300 mm meets.
    (question,) = asked_by(move, transfer(dip="30"))
    assert (question.field, question.why) == ("from_before_dip_mm", Why.BOOK)
    assert "21.00 LPA in SP, its book 210.00" in question.sentence
    assert (question.keep, question.instead) == ("Keep 30 mm", "300")
    record = move(transfer(dip="30"), sure={question.key})
    assert "Far from the book when it was written: 21.00 LPA by gauge." in remarks(record)


def test_a_gauge_far_from_its_book_that_no_nought_explains_is_asked_about_too(move):
    (question,) = asked_by(move, transfer(dip="200"))
    assert question.instead == ""
    assert question.sentence.endswith("Is the gauge right?")


@pytest.mark.parametrize("dip", ["226", "299", "301", "390"])
def test_within_a_quarter_nothing_is_asked(move, dip):
    assert move(transfer(dip=dip))


def test_a_correction_is_asked_only_about_what_it_changes(move, staff):
    record = move(transfer(dip="200"), sure=True)
    assert correct(record, {"to_after_dip_mm": "290"}, person=staff, reason="rod misread", now=NOW)
    (question,) = asked_by(correct, record, {"from_before_dip_mm": "100"}, person=staff, reason="misread", now=NOW)
    assert question.why == Why.BOOK


def test_lines_are_asked_about_by_their_place(opened, staff):
    opened("VA", "1000", "63.5")
    values = {"at": "2027-03-04 10:00", "vat": "VA"} | tiny_plant.gauge("vat_before", "1000", "63.5")
    values |= tiny_plant.gauge("vat_after", "800", "63.5")
    lines = [
        {"cask": "C1", "tare_kg": "50.0", "gross_kg": "139.5", "celsius": "20.0", "hydrometer_percent": "63.5"},
        {"cask": "C2", "tare_kg": "5.1", "gross_kg": "140.5", "celsius": "20.0", "hydrometer_percent": "63.5"},
    ]
    questions = asked_by(save, "cask_fill", None, values, lines, person=staff, now=NOW)
    tare = next(one for one in questions if one.field == "tare_kg")
    assert (tare.row, tare.instead) == (1, "51")
    assert tare.sentence.startswith("Line 2, tare: did you mean 51?")


# -- readings along the way


@pytest.fixture
def pitched(write) -> Record:
    write("intake", "M001", received_at="2027-03-01T05:00", kilograms="10000")
    write(
        "mash",
        "MA0001",
        started_at="2027-03-01T06:00",
        ended_at="2027-03-01T10:00",
        malt_lot="M001",
        grist_kg="200",
        wort_litres="1000",
        wort_gravity="1.0600",
        wort_celsius="20",
        washback="WB",
    )
    return write(
        "fermentation",
        "FE0001",
        mash="MA0001",
        washback="WB",
        pitched_at="2027-03-01T11:00",
        original_gravity="1.0600",
    )


def read(record, staff, at, value, **more):
    return add_readings(record, [(at, "gravity", value)], staff, now=NOW, **more)


def test_a_gravity_that_rises_is_asked_about(pitched, staff):
    read(pitched, staff, "2027-03-01T20:00", "1.0310")
    (question,) = asked_by(read, pitched, staff, "2027-03-02T02:00", "1.0410")
    assert question.why == Why.COURSE
    assert "higher than 1.0310 at 20:00" in question.sentence
    assert read(pitched, staff, "2027-03-02T02:00", "1.0410", sure={question.key})
    # Two readings of one thing differ by a few ten-thousandths.
    assert read(pitched, staff, "2027-03-02T04:00", "1.0413")


def test_a_reading_outside_what_is_usual_is_asked_about(pitched, staff):
    (question,) = asked_by(read, pitched, staff, "2027-03-01T20:00", "1.0900")
    assert question.why == Why.UNLIKELY


def test_a_value_put_in_place_of_a_struck_one_is_asked_about(pitched, staff):
    read(pitched, staff, "2027-03-01T20:00", "1.0310")
    (wrong,) = read(pitched, staff, "2027-03-02T02:00", "1.0210")
    act = {"person": staff, "reason": "misread", "value": "1.0900", "now": NOW}
    (question,) = asked_by(strike_reading, wrong, **act)
    assert strike_reading(wrong, **act, sure={question.key}).value == "1.0900"


DURING = During("SR0001", datetime(2027, 3, 1, 6, tzinfo=UTC), None)
STRENGTH = percent("distillate_percent", "Distillate, strength", usual=("0", "82"))


def along(value: str, before: str | None, field=STRENGTH) -> Along:
    stood = None if before is None else Before(datetime(2027, 3, 1, 7, 30, tzinfo=UTC), Decimal(before))
    return Along(field, datetime(2027, 3, 1, 8, tzinfo=UTC), value, stood)


def test_a_tenth_of_what_would_go_on_from_the_reading_before():
    with pytest.raises(Asked) as caught:
        ask_about_readings(AT, [along("6.25", "63.1")], DURING, now=NOW, sure=False)
    (question,) = caught.value.questions
    assert (question.why, question.instead, question.keep) == (Why.COURSE, "62.5", "Keep 6.25 % vol")
    ask_about_readings(AT, [along("6.25", "63.1")], DURING, now=NOW, sure={question.key})
    ask_about_readings(AT, [along("6.25", None)], DURING, now=NOW, sure=False)


@given(st.integers(100, 820), st.integers(-30, 30))
def test_what_goes_on_from_the_reading_before_is_never_asked_about(tenths, percents):
    value = min(max(tenths * (100 + percents) // 100, 100), 820)
    ask_about_readings(AT, [along(f"{value / 10}", f"{tenths / 10}")], DURING, now=NOW, sure=False)


def test_two_digits_changed_about_are_asked_about_where_the_last_runs_stood_elsewhere():
    """Worked by hand: they lie 1.8 apart, so 5.4 % and more below 73.4 or above 75.2 is far."""
    usually = Usually(Decimal("73.4"), Decimal("75.2"), 12)

    def asked(value: str, before: str | None = "74.0") -> Question:
        with pytest.raises(Asked) as caught:
            ask_about_readings(AT, [replace(along(value, before), usually=usually)], DURING, now=NOW, sure=())
        return caught.value.questions[0]

    for before in ("74.0", None):
        question = asked("47.3", before)
        assert (question.why, question.instead) == (Why.COURSE, "74.3")
        assert question.sentence.endswith(
            "did you mean 74.3? You typed 47.3; the last 12 stood at 73.4 to 75.2 by then."
        )
    # No two digits of it explain it; it is asked about all the same.
    assert asked("61.0").instead == ""
    for near in ("68.1", "80.5", "74.3"):
        ask_about_readings(AT, [replace(along(near, "74.0"), usually=usually)], DURING, now=NOW, sure=())


@given(st.integers(1, 800))
def test_a_gravity_that_falls_or_stands_still_is_never_asked_about(fallen):
    field = gravity("gravity", "Gravity", usual=("0.994", "1.075"), falls=True)
    value = 10750 - fallen
    ask_about_readings(AT, [along(f"{value / 10000:.4f}", "1.0750", field)], DURING, now=NOW, sure=False)


def test_all_is_written_where_every_question_is_answered(pitched, staff):
    assert recording.add_reading(pitched, "2027-03-01T20:00", "gravity", "1.1900", staff, sure=True)


def test_a_gauge_is_asked_about_once_where_one_of_its_readings_is_unlikely(write, opened, staff):
    opened("SP", "300", "70")
    run = {
        "still": "SS",
        "low_wines_receiver": "LW",
        "feints_receiver": "FE",
        "spirit_receiver": "SP",
        "charged_at": "2027-03-04T06:00",
        **tiny_plant.gauge("low_wines_before", "2000", "24.0"),
        **tiny_plant.gauge("low_wines_after", "1000", "24.0"),
        **tiny_plant.gauge("feints_before", "800", "36.0"),
        **tiny_plant.gauge("feints_after", "300", "36.0"),
        **tiny_plant.gauge("spirit_before", "300", "7.0"),
    }
    (question,) = asked_by(save, "spirit_run", None, run, person=staff, now=NOW)
    assert (question.field, question.instead) == ("spirit_before_hydrometer_percent", "70")


def test_what_was_written_at_the_same_minute_counts_as_before_it(move):
    # A run that ends and the next that is charged at one minute: the gauge meets what the first left behind.
    move(transfer())
    back = {"at": "2027-03-04 10:00", "from_vessel": "VA", "to_vessel": "SP"}
    for prefix, depth in (("from_before", "300"), ("from_after", "0"), ("to_before", "0"), ("to_after", "300")):
        back |= tiny_plant.gauge(prefix, depth, "" if depth == "0" else "70")
    record = move(back)
    assert remarks(record) == []
    # Put right, it is still held against what stood before it in that minute, and not against what it left.
    (question,) = asked_by(
        correct, record, {"from_before_dip_mm": "30"}, person=record.versions.get().person, reason="read anew", now=NOW
    )
    assert "21.00 LPA in VA, its book 210.00" in question.sentence
