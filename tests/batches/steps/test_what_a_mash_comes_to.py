"""What a mash comes to, by hand-worked figures: 5,000 kg of a 77 % malt with 24,000 L at 60° are 288 L°/kg, 96.9 %
(process check values P012, P015, P017 to P020; strike water: Lewis and Young 2001)."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from batches.models import Record, Version
from batches.pages.records.links import links_of
from batches.pages.records.readings import readings_of, readings_table
from batches.pages.records.shown import RecordAsWritten
from batches.records import recording
from batches.records.asking import Asked
from batches.records.readings import add_readings
from batches.sheets.typed.read_sheet import Unfit
from batches.steps import sheet_of
from distillery.pages import Fact
from distillery.people.models import Person
from distillery.rules.setting.figures import set_usual_figure
from ledger.proof.proving import prove
from tests.batches.results import facts_in, made_of

pytestmark = pytest.mark.django_db
Write = Callable[..., Record]
NOW = datetime(2027, 3, 1, 16, tzinfo=UTC)
MASH = {
    "started_at": "2027-03-01T08:00",
    "malt_lot": "M001",
    "grist_kg": "5000",
    "grist_celsius": "15",
    "strike_wanted_celsius": "64",
    "water1_at": "2027-03-01T08:00",
    "water1_litres": "20000",
    "water1_celsius": "68.9",
    "mixed_at": "2027-03-01T08:05",
    "mixed_celsius": "63.4",
    "water2_litres": "7700",
    "ended_at": "2027-03-01T13:00",
    "wort_litres": "24000",
    "wort_gravity": "1.0600",
    "wort_celsius": "19",
    "washback": "WB",
    "laboratory_extract_percent": "77",
}


@pytest.fixture
def mash(write: Write) -> Write:
    write(
        "intake",
        "M001",
        kind="malt",
        received_at="2027-02-01T06:00",
        kilograms="90000",
        moisture_percent="4.5",
        predicted_spirit_yield_lpa_per_tonne="406",
    )

    def save(number: str, **more: str) -> Record:
        return write("mash", number, **{**MASH, **more})

    return save


def facts(record: Record) -> dict[str, Fact]:
    return facts_in(made_of(record, NOW))


def notes(record: Record) -> list[str]:
    return [note["sentence"] for note in json.loads(Version.objects.filter(record=record).latest("pk").notes)]


def test_strike_water_beside_what_was_measured(mash: Write) -> None:
    found = facts(mash("MA0001"))
    assert (found["First water wanted at"].text, found["First water wanted at"].unit) == ("68.9", "°C")
    assert found["Mixed beside wanted"].text == "−0.6"
    assert found["Mixed as worked out"].text == "64.0"


def test_strike_water_is_there_before_any_water_is(write: Write, mash: Write) -> None:
    begun = {name: MASH[name] for name in ("started_at", "malt_lot", "grist_kg")}
    record = write("mash", "MA0001", **begun, grist_celsius="15", strike_wanted_celsius="64")
    found = facts(record)
    assert found["First water wanted at"].text == "68.9"
    assert "4.00 L/kg, the usual" in found["First water wanted at"].note
    assert "Extract" not in found


def test_extract_and_its_efficiency(mash: Write) -> None:
    found = facts(mash("MA0001"))
    assert found["Extract"].text == "288.0"
    assert (found["Extract efficiency"].text, found["Extract efficiency"].state) == ("96.9", None)


@pytest.mark.parametrize(
    ("gravity", "efficiency", "state", "said"),
    [
        ("1.0585", "94.5", "Look", "low"),
        ("1.0570", "92.1", "Out", "very low"),
        ("1.0635", "102.6", "Out", "more than the malt holds: a volume, a gravity or a weight is wrong"),
    ],
)
def test_an_efficiency_beyond_the_site_s_thresholds(
    mash: Write, gravity: str, efficiency: str, state: str, said: str
) -> None:
    found = facts(mash("MA0001", wort_gravity=gravity))["Extract efficiency"]
    assert (found.text, found.state and found.state.word) == (efficiency, state)
    assert found.note.startswith(said)


def test_weak_worts_count_in_the_extract_and_have_to_agree(mash: Write) -> None:
    mash("MA0001", weak_out_litres="9000", weak_out_gravity="1.0050")
    taken = {"weak_from": "MA0001", "weak_in_litres": "9000", "weak_in_gravity": "1.0050"}
    left = {"weak_out_litres": "9000", "weak_out_gravity": "1.0060"}
    later = {"started_at": "2027-03-01T14:00", "water1_at": "", "mixed_at": "", "mixed_celsius": ""}
    second = mash("MA0002", **later, ended_at="2027-03-01T19:00", washback="WB", **taken, **left)
    assert facts(second)["Extract"].text == "289.8"  # P019
    assert not [one for one in notes(second) if "Weak worts" in one]
    third = mash("MA0003", **later, ended_at="2027-03-01T20:00", **taken)
    assert "Weak worts in are 9,000 L, but MA0001 left 9,000 L, of which 9,000 L are taken already." in notes(third)


def test_weak_worts_lead_from_mash_to_mash(mash: Write) -> None:
    mash("MA0001", weak_out_litres="9000", weak_out_gravity="1.0050")
    second = mash("MA0002", weak_from="MA0001", weak_in_litres="9000", weak_in_gravity="1.0050")
    came_from, _ = links_of(second)
    assert [(one.text, one.note) for one in came_from if one.text == "MA0001"] == [("MA0001", "Mash, weak worts")]
    _, went_to = links_of(Record.objects.get(number="MA0001"))
    assert [one.text for one in went_to] == ["MA0002"]
    assert prove().broken == []


@pytest.mark.parametrize(
    ("certificate", "shown"),
    [
        ({"soluble_extract_percent": "77", "extract_basis": "as is", "extract_grind": "fine"}, "96.9"),
        # 80.628 % of dry malt with 4.5 % moisture is 77.0 % as is: row P004 the other way.
        ({"soluble_extract_percent": "80.628", "extract_basis": "dry", "extract_grind": "fine"}, "96.9"),
        ({}, ""),
    ],
)
def test_extract_by_the_laboratory_is_the_certificates_where_none_is_written(
    write: Write, mash: Write, certificate: dict[str, str], shown: str
) -> None:
    write("intake", "M001", certificate="C-9", **certificate)
    found = facts(mash("MA0001", laboratory_extract_percent=""))
    assert ("Extract efficiency" in found) is bool(shown)
    if shown:
        assert found["Extract efficiency"].text == shown
        assert found["Extract efficiency"].note == "of 77.0 % by the certificates of its malt"


def test_weak_worts_that_do_not_agree(mash: Write) -> None:
    mash("MA0001", weak_out_litres="9000", weak_out_gravity="1.0050")
    second = mash("MA0002", weak_from="MA0001", weak_in_litres="8500", weak_in_gravity="1.0065")
    said = notes(second)
    assert "Weak worts in are 8,500 L, but MA0001 left 9,000 L." in said
    assert "Weak worts in are at 1.0065, but MA0001 left them at 1.0050." in said


def test_weak_worts_from_nowhere_and_from_itself(mash: Write) -> None:
    assert any("not from which mash" in one for one in notes(mash("MA0001", weak_in_litres="100")))
    with pytest.raises(Unfit, match="is this mash"):
        mash("MA0001", weak_from="MA0001", weak_in_litres="100")


def test_water_and_draff(mash: Write) -> None:
    found = facts(mash("MA0001"))
    assert found["Draff, worked out"].text == "4,747"
    assert (found["Water gap"].text, found["Water gap"].state) == ("0.0", None)
    # A third water of which no weak worts are written says nothing of a leak; with them it counts.
    assert facts(mash("MA0003", water3_litres="9000"))["Water gap"].state is None
    whole = {"water3_litres": "9000", "weak_out_litres": "9000", "weak_out_gravity": "1.005"}
    assert facts(mash("MA0004", **whole))["Water gap"].state is None
    assert facts(mash("MA0005", **{**whole, "weak_out_litres": "6000"}))["Water gap"].state is not None
    leak = facts(mash("MA0002", water2_litres="9000"))["Water gap"]
    assert leak.state is not None
    assert "a meter is wrong or there is a leak" in leak.note


def test_a_mash_that_takes_much_longer_than_the_last(mash: Write) -> None:
    for number in range(1, 7):
        mash(f"MA000{number}", started_at=f"2027-02-0{number + 1}T08:00", ended_at=f"2027-02-0{number + 1}T13:00")
    assert facts(mash("MA0008", ended_at="2027-03-01T14:00"))["Took"].state is None
    long = facts(mash("MA0009", ended_at="2027-03-01T15:00"))["Took"]
    assert (long.text, long.state and long.state.word) == ("7.0", "Look")
    assert "median of the last twenty 5.0 h" in long.note


def test_a_run_off_gravity_is_shown_at_20_degrees_beside_what_was_read(mash: Write, staff: Person) -> None:
    record = mash("MA0001")
    at = datetime(2027, 3, 1, 11, tzinfo=UTC)
    rows = [(at, "gravity", "1.0700"), (at, "sample_celsius", "30")]
    add_readings(record, rows, staff, sure=True)
    written = RecordAsWritten(record, sheet_of("mash"))
    table = readings_table(written, readings_of(written))
    assert table is not None
    labels = [column.label for column in table.columns]
    cells = dict(zip(labels, (cell.text for cell in table.rows[0].cells), strict=True))
    assert cells["Gravity"] == "1.0700"
    # Water is 0.998207 at 20 °C and 0.995649 at 30 (Tanaka 2001); glass swells by 0.00025 over ten kelvin.
    assert float(cells["Gravity at 20 °C"]) == pytest.approx(1.0700 * 0.99975 * 0.998207 / 0.995649, abs=6e-5)


def test_a_grist_off_its_target_is_asked_about(mash: Write, staff: Person) -> None:
    """1 % as the site's figure: common practice, no source. 5,040 of 5,000 kg are 0.8 % over, 5,060 are 1.2 %."""
    beyond = {**MASH, "grist_kg": "5060", "grist_wanted_kg": "5000"}
    with pytest.raises(Asked) as asked:
        recording.save("mash", "MA0001", beyond, person=staff, now=NOW)
    (question,) = [one for one in asked.value.questions if one.field == "grist_kg"]
    assert "5060 kg, +1.2 % of the 5000 kg wanted" in question.sentence
    within = mash("MA0001", grist_kg="5040", grist_wanted_kg="5000")
    assert [one for one in notes(within) if "wanted" in one] == []


def test_the_site_s_own_target_holds_where_a_mash_says_none(mash: Write, manager: Person) -> None:
    set_usual_figure(
        name="grist of a mash",
        from_day=date(2027, 2, 1),
        expected=Decimal(4900),
        spread=Decimal(50),
        source="recipe of the mash house",
    )
    assert any("+2.0 % of the 4900 kg wanted" in one for one in notes(mash("MA0001")))
