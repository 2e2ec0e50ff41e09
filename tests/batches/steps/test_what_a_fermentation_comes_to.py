"""What a fermentation comes to, by hand-worked figures. 4,800 L set at 1060 and down to 998 hold 62 × 0.132 = 8.184 %
vol (HMRC Notice 226 section 30.3; process check P021), 392.8 LPA; thresholds are those of the process reference,
section C (common practice, no source)."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest

from batches.models import Record, Version
from batches.pages.running.shown import readings_shown
from batches.records.readings import add_readings
from batches.running.runs import runs_of
from batches.sheets.typed.read_sheet import Unfit
from distillery.pages import Fact
from distillery.people.models import Person
from tests.batches.results import facts_in, made_of

pytestmark = pytest.mark.django_db
Write = Callable[..., Record]
Set = Callable[..., Record]
PITCHED = datetime(2027, 3, 2, 8, tzinfo=UTC)


def at(hours: float) -> datetime:
    return PITCHED + timedelta(hours=hours)


def typed_at(hours: float) -> str:
    return at(hours).strftime("%Y-%m-%dT%H:%M:%SZ")


@pytest.fixture
def pitched(write: Write) -> Set:
    """Sets a washback of a mash of a tonne, with whatever else is written at its pitching or its end."""
    write(
        "intake",
        "M001",
        kind="malt",
        received_at="2027-02-01T06:00",
        kilograms="90000",
        moisture_percent="4.5",
        predicted_spirit_yield_lpa_per_tonne="400",
    )

    def save(**more: str) -> Record:
        write(
            "mash",
            "MA0001",
            started_at="2027-03-02T02:00",
            malt_lot="M001",
            grist_kg="1000",
            ended_at="2027-03-02T07:00",
            wort_litres="4800",
            wort_gravity="1.0600",
            wort_celsius="19",
            washback="WB",
        )
        given = {"mash": "MA0001", "washback": "WB", "pitched_at": typed_at(0), "original_gravity": "1.0600"}
        return write("fermentation", "FE0001", **{**given, **more})

    return save


@pytest.fixture
def read(staff: Person) -> Callable[..., None]:
    def save(record: Record, quantity: str, *readings: tuple[float, str]) -> None:
        add_readings(record, [(at(hour), quantity, value) for hour, value in readings], staff, sure=True)

    return save


def facts(record: Record, hours: float) -> dict[str, Fact]:
    record.refresh_from_db()
    return facts_in(made_of(record, at(hours)))


def state(fact: Fact) -> str:
    return fact.state.word if fact.state else ""


def notes(record: Record) -> list[str]:
    return [note["sentence"] for note in json.loads(Version.objects.filter(record=record).latest("pk").notes)]


END = {
    "final_gravity": "0.9980",
    "final_dip_mm": "4800",
    "final_celsius": "20",
}


def test_what_was_measured_stands_apart_from_what_was_added(pitched: Set) -> None:
    record = pitched(
        measured_gravity="1.0586", addition_for_work_degrees="1.4", addition_reason="yeast in the wort line"
    )
    found = facts(record, 1)["Original gravity, corrected"]
    assert found.text == "1.0600"  # P027, HMRC SPIR4080
    assert found.note == "measured 1.0586, 1.4° added for work: yeast in the wort line"
    assert not notes(record)


def test_an_addition_has_its_reason_and_its_sum(pitched: Set) -> None:
    with pytest.raises(Unfit, match="without its reason"):
        pitched(measured_gravity="1.0586", addition_for_work_degrees="1.4")
    record = pitched(measured_gravity="1.0580", addition_for_work_degrees="1", addition_reason="began early")
    assert "Measured 1.0580 and 1° for work come to 1.0590." in notes(record)


def test_yeast_by_its_form(pitched: Set) -> None:
    record = pitched(yeast_kg="8", yeast_form="dried")
    found = facts(record, 1)["Yeast"]
    assert (found.text, found.unit) == ("0.167", "kg/hL")  # P030 in a fifth of the size
    assert "33 million cells a mL" in found.note
    assert "0.80 % of the malt" in found.note


def test_a_weight_without_its_form_is_said_to_be_none(pitched: Set) -> None:
    assert "without its form" in facts(pitched(yeast_kg="8"), 1)["Yeast"].note


def test_gas_made_so_far_and_the_air_it_would_take(pitched: Set, read: Callable[..., None]) -> None:
    record = pitched(set_dip_mm="4800")
    read(record, "gravity", (6, "1.0500"), (12, "1.0300"))
    found = facts(record, 12)
    # Factors of Notice 226 for drops of 30 and of 10 degrees.
    lpa = 4800 * 30 * 0.129 / 100
    assert found["Carbon dioxide made"].text == f"{lpa * 0.7540:,.0f}"
    earlier = 4800 * 10 * 0.126 / 100
    flow = (lpa - earlier) * 0.41211 / 6
    assert float(found["Carbon dioxide now"].text) == pytest.approx(flow, abs=0.1)
    assert float(found["Fresh air for 5,000 ppm"].text.replace(",", "")) == pytest.approx(flow / 0.0046, rel=0.002)
    assert float(found["Fresh air for 15,000 ppm"].text.replace(",", "")) == pytest.approx(flow / 0.0146, rel=0.002)
    assert "EH40/2005" in found["Fresh air for 5,000 ppm"].note
    assert state(found["Carbon dioxide made"]) == "est"


def test_no_fall_by_the_twelfth_hour(pitched: Set, read: Callable[..., None]) -> None:
    record = pitched()
    read(record, "gravity", (6, "1.0590"))
    assert "Fallen" not in facts(record, 11)
    read(record, "gravity", (12, "1.0560"))
    found = facts(record, 12)["Fallen"]
    assert (found.text, state(found)) == ("4.0", "Look")


def test_a_fall_of_five_degrees_is_enough(pitched: Set, read: Callable[..., None]) -> None:
    record = pitched()
    read(record, "gravity", (12, "1.0550"))
    assert "Fallen" not in facts(record, 12)


@pytest.mark.parametrize(
    ("quantity", "value", "label", "said"),
    [
        ("celsius", "35.0", "Peak temperature", ""),
        ("celsius", "35.1", "Peak temperature", "Look"),
        ("ph", "3.8", "Lowest pH", ""),
        ("ph", "3.7", "Lowest pH", "Look"),
    ],
)
def test_too_warm_and_too_sour(
    pitched: Set, read: Callable[..., None], quantity: str, value: str, label: str, said: str
) -> None:
    record = pitched()
    read(record, quantity, (20, value))
    assert state(facts(record, 20)[label]) == said


@pytest.mark.parametrize(("gravity", "said"), [("1.0001", "Look"), ("0.9939", "Out"), ("1.0000", ""), ("0.9940", "")])
def test_gravities_where_no_fermentation_ends(pitched: Set, read: Callable[..., None], gravity: str, said: str) -> None:
    record = pitched()
    read(record, "gravity", (48, gravity), (54, gravity))
    found = facts(record, 54).get("Final gravity")
    assert (state(found) if found else "") == said


def test_two_steady_readings_end_it(pitched: Set, read: Callable[..., None]) -> None:
    record = pitched()
    read(record, "gravity", (42, "1.0010"), (48, "0.9985"))
    assert facts(record, 49)["Steady"].text == "not yet"
    read(record, "gravity", (54, "0.9981"))
    found = facts(record, 55)
    assert found["Steady"].text == "since Thu 4 Mar 2027 14:00"
    assert (found["Waiting"].text, state(found["Waiting"])) == ("1.0", "")
    assert state(facts(record, 79)["Waiting"]) == "Look"


def test_a_declaration_before_it_is_steady_is_said(pitched: Set, read: Callable[..., None], write: Write) -> None:
    record = pitched()
    read(record, "gravity", (36, "1.0100"), (42, "1.0030"))
    write("fermentation", "FE0001", ended_at=typed_at(46), **END)
    assert any("not steady yet" in one for one in notes(record))
    assert state(facts(record, 47)["Steady"]) == "Look"


def test_a_declaration_of_steady_wash_is_not(pitched: Set, read: Callable[..., None], write: Write) -> None:
    record = pitched()
    read(record, "gravity", (36, "1.0100"), (48, "0.9982"))
    write("fermentation", "FE0001", ended_at=typed_at(54), **END)
    assert not [one for one in notes(record) if "steady" in one]
    found = facts(record, 55)
    assert found["Strength of the wash"].text == "8.18"
    # 392.8 LPA beside 400 promised by a tonne of malt.
    assert (found["Wash beside the malt"].text, state(found["Wash beside the malt"])) == ("−1.8", "")


def test_foam_is_noted_and_stops_nothing(pitched: Set, read: Callable[..., None]) -> None:
    record = pitched()
    read(record, "foam", (20, "foaming"))
    assert state(facts(record, 21)["Foamed"]) == ""
    read(record, "foam", (22, "foamed over"))
    assert state(facts(record, 23)["Foamed"]) == "Look"
    run = runs_of([record])[0]
    assert (run.stopped, run.started_again) == (None, None)
    assert [(span.state, span.since) for span in run.spans] == [("Fermenting", PITCHED)]
    assert [event.name for event in run.may_come()] == ["foam", "foam_over"]


def test_foam_hides_nothing_that_was_read_at_the_same_minute(pitched: Set, read: Callable[..., None]) -> None:
    record = pitched()
    read(record, "gravity", (20, "1.0200"))
    read(record, "foam", (20, "foaming"))
    lines = readings_shown(runs_of([record])[0], {}, at(21)).lines
    assert [line.said for line in lines] == ["Foaming", ""]
    assert [[one.text for one in cell.stands] for cell in lines[1].cells] == [["1.0200"]]


def test_wash_far_from_what_the_malt_promised(pitched: Set, read: Callable[..., None], write: Write) -> None:
    record = pitched()
    write("fermentation", "FE0001", ended_at=typed_at(54), **{**END, "final_dip_mm": "4300"})
    found = facts(record, 55)["Wash beside the malt"]
    assert (found.text, state(found)) == ("−12.0", "Look")
