"""What is on is read once and remembered until it is written on; what went before, until that is."""

from __future__ import annotations

from datetime import timedelta

import pytest
from small_site import CHARGE, FINISH

from batches.models import Record
from batches.records import recording
from batches.records.readings import add_reading, strike_reading
from batches.running.runs_on import RunsOn, runs_on, with_run
from ledger.enquiries.following import deferred

pytestmark = pytest.mark.django_db


def on_day(day: int) -> dict[str, str]:
    return {name: text.replace("2027-03-03", f"2027-03-{day:02}") for name, text in (CHARGE | FINISH).items()}


@pytest.fixture
def on(site) -> Record:
    """A spirit run that is on, and three before it in the same still, each cut at 62.1 % and read once."""
    with deferred():
        for day in (3, 4, 5):
            record = recording.save("spirit_run", None, on_day(day), person=site, sure=True)
            add_reading(
                record, record.happened_from + timedelta(hours=2), "distillate_percent", "71.0", site, sure=True
            )
        charge = {name: text for name, text in on_day(6).items() if name in CHARGE}
        return recording.save("spirit_run", None, charge, person=site, sure=True)


def cut_usual(found: RunsOn, record: Record) -> float | None:
    return found.usual[record.pk].figure("cut_off_percent")


def test_it_is_the_same_until_something_is_written(on):
    assert runs_on() is runs_on()
    assert cut_usual(runs_on(), on) == 62.1


def test_a_reading_is_seen_and_the_runs_before_are_not_read_again(on, site):
    before = runs_on()
    add_reading(on, on.happened_from + timedelta(hours=1), "distillate_percent", "72.4", site, sure=True)
    after = runs_on()
    run = after.run_of(on)
    assert run is not None
    assert [point.value for point in run.points] == [72.4]
    assert after.usual[on.pk] is before.usual[on.pk]


def test_a_correction_of_a_run_before_is_seen(on, site):
    assert cut_usual(runs_on(), on) == 62.1
    with deferred():
        for record in Record.objects.filter(kind="spirit_run").exclude(pk=on.pk):
            recording.correct(record, {"cut_off_percent": "60.5"}, person=site, reason="misread", sure=True)
    assert cut_usual(runs_on(), on) == 60.5


def test_a_reading_of_a_run_before_that_is_struck_is_seen(on, site):
    past = runs_on().usual[on.pk].runs[0]
    assert len(past.standing("distillate_percent")) == 1
    reading = past.record.readings.get()
    strike_reading(reading, value="71.2", reason="misread", person=site, sure=True)
    newest = runs_on().usual[on.pk].runs[0]
    assert [one.value for one in newest.standing("distillate_percent")] == ["71.2"]


def test_one_that_is_made_void_is_on_no_more_and_has_a_page_to_the_last(on, site):
    assert runs_on().run_of(on) is not None
    recording.void(on, person=site, reason="never charged")
    assert runs_on().run_of(on) is None
    run, beside = with_run(on)
    assert run.record.pk == on.pk
    assert on.pk in beside.usual


def test_a_strength_far_from_where_the_last_runs_stood_by_then_is_asked_about(on, site, monkeypatch):
    monkeypatch.setattr("batches.records.readings.FEWEST_TO_ASK_BY", 3)
    at = on.happened_from + timedelta(hours=2)
    with pytest.raises(recording.Asked) as caught:
        add_reading(on, at, "distillate_percent", "17.0", site)
    assert caught.value.questions[0].instead == "71.0"
    add_reading(on, at, "distillate_percent", "70.1", site)
    monkeypatch.undo()
    add_reading(on, at + timedelta(minutes=1), "distillate_percent", "57.0", site)
