"""What people type and what it is taken for. The rules are our own; units and clock changes are checked as stated."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.pages.records.shown import as_text
from batches.sheets import fields
from batches.sheets.sheet import Field, Kind
from batches.sheets.typed.moments import Unreadable, dated, is_bare_time, read_moment
from batches.sheets.typed.parsing import read
from batches.steps.shared.stock import STOCK_FIELDS

STRENGTH = fields.percent("strength", "Hydrometer", usual=("20", "70"))
LITRES = fields.litres("litres", "Wort", usual=("1000", "20000"))
GRAVITY = fields.gravity("gravity", "Gravity", usual=("0.994", "1.075"))
CELSIUS = fields.celsius("celsius", "Temperature")
SIZE, LABEL = STOCK_FIELDS[1:3]
FILL = fields.number("mean_fill_millilitres", "Mean fill", "mL")
BOTTLES = fields.count("bottles", "Bottles")
AT = fields.when("at", "Charged at")
LEFT_FOR = Field(name="kind", label="Left for", kind=Kind.CHOICE, choices=("home use", "export"))


@pytest.mark.parametrize(
    ("field", "typed", "value"),
    [
        (STRENGTH, "62.5", "62.5"),
        (STRENGTH, "62,5", "62.5"),
        (STRENGTH, " 62.5 % ", "62.5"),
        (STRENGTH, "62.5 % vol.", "62.5"),
        (STRENGTH, "62,500", "62.500"),
        (STRENGTH, ".5", "0.5"),
        (STRENGTH, "0", "0"),
        (LITRES, "2 360", "2360"),
        (LITRES, "2,360.5 L", "2360.5"),
        (LITRES, "2.360,5", "2360.5"),
        (LITRES, "1,234,567", "1234567"),
        (GRAVITY, "1,061", "1.061"),
        (GRAVITY, "1.0611", "1.0611"),
        # In degrees, as HMRC counts them (Excise Notice 226: OG 1.050 is 1050 degrees) and as a scale begins at water.
        (GRAVITY, "1061", "1.061"),
        (GRAVITY, "1060.3", "1.0603"),
        (GRAVITY, "61.2", "1.0612"),
        (GRAVITY, "61.2°", "1.0612"),
        (GRAVITY, "1.5 degrees", "1.0015"),
        (GRAVITY, "998.2", "0.9982"),
        (GRAVITY, "-1.8", "0.9982"),
        (GRAVITY, "0", "1"),
        (GRAVITY, "1.061 SG", "1.061"),
        (CELSIUS, "-2,5 °C", "-2.5"),
        (CELSIUS, "\u22122.5", "-2.5"),
        (CELSIUS, "14 deg C", "14"),
        (BOTTLES, "1,200", "1200"),
        (BOTTLES, "12.0", "12"),
        (BOTTLES, "1.200", "1200"),
        (SIZE, "70", "70"),
        (SIZE, "700 ml", "70"),
        (SIZE, "0.7 L", "70"),
        (SIZE, "0,7 litre", "70"),
        (SIZE, "70 cl", "70"),
        (FILL, "70.06 cl", "700.6"),
    ],
)
def test_figures_are_read_as_they_are_meant(field: Field, typed: str, value: str) -> None:
    assert read(field, typed).value == Decimal(value)


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        (STRENGTH, "101", "Hydrometer is 101; it cannot be above 100 % vol."),
        (STRENGTH, "-1", "Hydrometer is -1; it cannot be below 0 % vol."),
        (STRENGTH, "625", "Hydrometer is 625; it cannot be above 100 % vol. Did you mean 62.5?"),
        (STRENGTH, "sixty", "Hydrometer: 'sixty' is not a figure; write digits, such as 20.0."),
        (STRENGTH, "1e1", "Hydrometer is in % vol; '1e1' ends in 'e1'."),
        (STRENGTH, "62.5 C", "Hydrometer is in % vol; '62.5 C' ends in 'C'."),
        (STRENGTH, "6 2.5", "Hydrometer: '6 2.5' is not a figure; write digits, such as 20.0."),
        (STRENGTH, "1.2.3", "Hydrometer: '1.2.3' is not a figure; write digits, such as 20.0."),
        (STRENGTH, "nan", "Hydrometer: 'nan' is not a figure; write digits, such as 20.0."),
        (LITRES, "2,360", "Wort: '2,360' can mean 2360 or 2.360 L; write 2360, or 2.360 with a point."),
        (CELSIUS, "41", "Temperature is 41; it cannot be above 40 °C."),
        (CELSIUS, "-20.1", "Temperature is -20.1; it cannot be below -20 °C."),
        (GRAVITY, "9982", "Gravity is 9982; it cannot be above 1.2."),
        (GRAVITY, "10.61", "Gravity is 10.61; it cannot be above 1.2. Did you mean 1.061?"),
        (GRAVITY, "1.061 C", "Gravity is in relative density; '1.061 C' ends in 'C'."),
        (BOTTLES, "12.5", "Bottles is 12.5; it is a whole number."),
        (BOTTLES, "0", "Bottles is 0; it cannot be below 1."),
        (BOTTLES, "1.000", "Bottles: '1.000' can mean 1000 or 1; write 1000, or 1."),
        (SIZE, "0.7", "Bottle is 0.7; it cannot be below 1 cl. Did you mean 0.7 L, which is 70 cl?"),
        (SIZE, "700", "Bottle is 700; it cannot be above 500 cl. Did you mean 700 ml, which is 70 cl?"),
        (SIZE, "7 L", "Bottle is 7 L; it cannot be above 500 cl."),
        (LEFT_FOR, "sold", "Left for is 'sold'; it is one of: home use, export."),
        (AT, "yesterday", "Charged at: 'yesterday' is not a time; write it as 02:10 or 2027-03-04 02:10."),
        (AT, "2027-02-30T10:00", "Charged at: there is no such day or time as 2027-02-30T10:00."),
        (AT, "0027-03-04T10:00", "Charged at: there is no such day or time as 0027-03-04T10:00."),
        (LITRES, "1e9" + "0" * 50, "Wort is 53 characters long; a figure has at most 40."),
        (LITRES, "10000001", "Wort is 10000001; it cannot be above 10000000 L."),
        (fields.name("lot", "Lot code", lot=True), "x" * 61, "Lot code is 61 characters long; at most 60 are kept."),
        (AT, "02:10", "Charged at: 02:10 has no day; write the day too, such as 2027-03-04 02:10."),
    ],
)
def test_what_cannot_be_is_refused_with_field_value_and_limit(field: Field, typed: str, sentence: str) -> None:
    with pytest.raises(Unreadable) as refused:
        read(field, typed)
    assert str(refused.value).startswith(sentence)


@pytest.mark.parametrize("typed", ["1e3", "1_000", "٣", "63e0", "１２"])
def test_powers_underscores_and_other_scripts_are_refused(typed: str) -> None:
    with pytest.raises(Unreadable):
        read(LITRES, typed)


@pytest.mark.parametrize(
    ("typed", "shown"), [("1060.3", "1060.3 (1.0603)"), ("61.2", "61.2 (1.0612)"), ("1.0603", "1.0603")]
)
def test_a_gravity_in_degrees_is_shown_with_what_it_was_taken_for(typed: str, shown: str) -> None:
    assert as_text(GRAVITY, typed) == shown


def test_a_choice_is_taken_in_any_case() -> None:
    assert read(LEFT_FOR, "Home Use").value == "home use"


@pytest.mark.parametrize(
    ("typed", "sentence", "instead"),
    [
        ("6.25", "Did you mean 62.5? You typed 6.25.", "62.5"),
        ("80", "Hydrometer is 80; unlikely: usual 20 to 70 % vol.", ""),
        ("1.0", "Hydrometer is 1.0; unlikely: usual 20 to 70 % vol.", ""),
    ],
)
def test_what_is_unlikely_is_kept_and_noted(typed: str, sentence: str, instead: str) -> None:
    found = read(STRENGTH, typed)
    assert found.value == Decimal(typed)
    assert [(note.field, note.sentence, note.instead) for note in found.notes] == [("strength", sentence, instead)]


def test_a_point_before_three_digits_may_have_parted_thousands_and_is_asked_about() -> None:
    (note,) = [one for one in read(LITRES, "7.800").notes if "was taken as" in one.sentence]
    assert (note.sentence, note.instead) == ("Wort: 7.800 was taken as 7.8. Did you mean 7800?", "7800")
    assert not read(GRAVITY, "1.061").notes
    assert not read(LITRES, "7800").notes
    assert not read(LITRES, "7800.5").notes


@pytest.mark.parametrize(("typed", "noted"), [("41.45", True), ("41.4", False), ("41.40", False), ("40", False)])
def test_a_label_has_one_decimal(typed: str, noted: bool) -> None:
    """Regulation (EU) 1169/2011 as assimilated, Article 28 and Annex XII: at most one decimal."""
    found = read(LABEL, typed)
    assert found.value == Decimal(typed)
    assert bool(found.notes) is noted
    if noted:
        assert found.notes[0].sentence == (
            "Strength on the label is 41.45; at most one decimal is the rule: check the label."
        )


def test_what_is_usual_has_no_note() -> None:
    assert read(STRENGTH, "62.5").notes == ()


@pytest.mark.parametrize(
    "typed",
    [
        "02:10",
        "2:10",
        "2.10",
        "0210",
        "2027-03-04T02:10",
        "2027-03-04 2:10",
        "2027-03-04 02:10:00",
        "4/3/2027 02:10",
        "04.03.2027 02:10",
        "4 Mar 2027 02:10",
        "4 March 2027, 0210",
        "2027-03-04T02:10Z",
        "2027-03-04T03:10+01:00",
    ],
)
def test_times_are_taken_however_they_are_written(typed: str) -> None:
    assert read(AT, typed, day=date(2027, 3, 4)).value == datetime(2027, 3, 4, 2, 10, tzinfo=UTC)


def test_a_bare_time_that_is_still_to_come_was_yesterday() -> None:
    now = datetime(2027, 3, 4, 1, 0, tzinfo=UTC)
    moment, remark = read_moment(AT, "23:50", day=date(2027, 3, 4), now=now)
    assert moment == datetime(2027, 3, 3, 23, 50, tzinfo=UTC)
    assert remark.startswith("23:50 is still to come today")
    assert read_moment(AT, "01:04", day=date(2027, 3, 4), now=now)[0] == datetime(2027, 3, 4, 1, 4, tzinfo=UTC)


def test_an_hour_that_was_not_is_the_moment_of_the_change() -> None:
    # The United Kingdom's clocks go forward at 01:00 UTC on the last Sunday of March (Summer Time Order 2002).
    found = read(AT, "2027-03-28T01:30")
    assert found.value == datetime(2027, 3, 28, 1, 0, tzinfo=UTC)
    assert "There was no 01:30 that night" in found.notes[0].sentence


def test_an_hour_that_came_twice_is_the_first() -> None:
    # They go back at 01:00 UTC on the last Sunday of October (Summer Time Order 2002).
    found = read(AT, "2027-10-31T01:30")
    assert found.value == datetime(2027, 10, 31, 0, 30, tzinfo=UTC)
    assert "came twice" in found.notes[0].sentence
    assert read(AT, "2027-10-31T01:30+00:00").value == datetime(2027, 10, 31, 1, 30, tzinfo=UTC)


@given(st.decimals(min_value=0, max_value=100, places=3, allow_nan=False))
def test_a_figure_written_out_is_read_back(value: Decimal) -> None:
    plain = f"{value:f}"
    assert read(STRENGTH, plain).value == value
    assert read(STRENGTH, f" {plain} %").value == value
    without_thousandths = f"{value.quantize(Decimal('0.01')):f}"
    assert read(STRENGTH, without_thousandths.replace(".", ",")).value == Decimal(without_thousandths)


@given(st.integers(min_value=1, max_value=10**7))
def test_thousands_may_be_parted(value: int) -> None:
    for typed in (str(value), f"{value:,}", f"{value:,}".replace(",", " "), f"{value:,}".replace(",", "\u202f")):
        assert read(BOTTLES, typed).value == value


@given(st.datetimes(min_value=datetime(2000, 1, 1), max_value=datetime(2060, 1, 1)))
def test_a_moment_written_out_is_read_back(moment: datetime) -> None:
    aware = moment.replace(second=0, microsecond=0, tzinfo=UTC)
    text = dated(aware)
    assert not is_bare_time(text)
    assert read(AT, text).value == aware


@given(st.text(max_size=30))
def test_no_text_breaks_a_field(typed: str) -> None:
    for field in (STRENGTH, LITRES, GRAVITY, BOTTLES, AT, LEFT_FOR):
        assert said(field, typed)


def said(field: Field, typed: str) -> str:
    """What a field makes of a text: its value, or the sentence that refuses it."""
    try:
        return f"{field.label}: {read(field, typed, day=date(2027, 3, 4)).value}"
    except Unreadable as refused:
        return str(refused) if str(refused).startswith(field.label) else ""
