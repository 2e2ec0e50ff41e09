"""The word a run is in, what can come next, and what takes the distillate: a spirit run from charge to feints."""

from __future__ import annotations

from made_up import at, run_of, typed_at

from batches.pages.running.curves import curve_of
from batches.pages.running.shown import state_of_run
from batches.running.before import Usual
from distillery.charts import LARGE

CUTS = {"spirit_on_at": typed_at(1), "cut_on_percent": "74.7", "spirit_off_at": typed_at(3), "cut_off_percent": "62.0"}


def said(run):
    return [(span.state, span.into, span.since) for span in run.spans]


def coming(run):
    return [event.name for event in run.may_come()]


def test_before_the_first_cut():
    run = run_of()
    assert said(run) == [("Foreshots", "feints_receiver", at(0))]
    assert coming(run) == ["spirit_on", "stop", "feints_receiver_changed"]


def test_between_the_cuts_and_after_them():
    on = run_of(typed={"spirit_on_at": typed_at(1)})
    assert said(on)[-1] == ("Spirit on", "spirit_receiver", at(1))
    assert coming(on) == ["spirit_off", "stop", "spirit_receiver_changed", "feints_receiver_changed"]
    off = run_of(typed=CUTS)
    assert [state for state, *_ in said(off)] == ["Foreshots", "Spirit on", "Feints"]
    assert [span.until for span in off.spans] == [at(1), at(3), None]
    assert coming(off) == ["stop", "spirit_receiver_changed", "feints_receiver_changed"]
    assert [(one.event.name, [typed for _, typed in one.figures]) for one in off.happened] == [
        ("spirit_on", ["74.7"]),
        ("spirit_off", ["62.0"]),
    ]


def test_a_stop_leads_back_to_what_was_before_as_often_as_it_comes():
    stops = [
        (1.5, "interruption", "stopped"),
        (1.75, "interruption", "started again"),
        (2.0, "interruption", "stopped"),
    ]
    run = run_of(typed={"spirit_on_at": typed_at(1)}, readings=stops)
    assert [state for state, *_ in said(run)] == ["Foreshots", "Spirit on", "Stopped", "Spirit on", "Stopped"]
    assert [into for _, into, _ in said(run)][2:] == ["", "spirit_receiver", ""]
    # A receiver may be changed while the still stands.
    assert coming(run) == ["start_again", "spirit_receiver_changed", "feints_receiver_changed"]
    started = run_of(typed={"spirit_on_at": typed_at(1)}, readings=[*stops, (3.0, "interruption", "started again")])
    assert coming(started)[:2] == ["spirit_off", "stop"]
    assert started.started_again == at(3)


def test_a_changed_receiver_gives_way_to_the_next_and_the_state_stays():
    changed = CUTS | {"spirit_receiver_changed_at": typed_at(2), "next_spirit_receiver": "SP2"}
    run = run_of(typed=changed)
    assert said(run) == [
        ("Foreshots", "feints_receiver", at(0)),
        ("Spirit on", "spirit_receiver", at(1)),
        ("Spirit on", "next_spirit_receiver", at(2)),
        ("Feints", "feints_receiver", at(3)),
    ]
    assert coming(run) == ["stop", "feints_receiver_changed"]
    on = run_of(typed={name: text for name, text in changed.items() if not name.endswith(("off_at", "off_percent"))})
    assert on.in_state_since == at(1)
    assert state_of_run(on, at(2.5)).brief == "1 h 30 min at 74.7 %"


def test_after_a_stop_it_runs_into_the_next_receiver():
    stops = [(2.0, "interruption", "stopped"), (2.5, "interruption", "started again")]
    typed = {"spirit_on_at": typed_at(1), "spirit_receiver_changed_at": typed_at(2.25), "next_spirit_receiver": "SP2"}
    assert [into for _, into, _ in said(run_of(typed=typed, readings=stops))] == [
        "feints_receiver",
        "spirit_receiver",
        "",
        "",
        "next_spirit_receiver",
    ]


def test_waters_of_a_mash_come_one_after_another():
    assert coming(run_of("mash")) == ["water1"]
    first = {"water1_at": typed_at(0.5)}
    assert coming(run_of("mash", typed=first)) == ["mixed", "water2"]
    assert coming(run_of("mash", typed={**first, "mixed_at": typed_at(0.6)})) == ["water2"]
    assert said(run_of("mash", typed={**first, "mixed_at": typed_at(0.6)}))[-1][0] == "First water"


def test_a_strength_stands_at_the_word_and_anything_else_beside_it():
    on = state_of_run(run_of(typed={"spirit_on_at": typed_at(1), "cut_on_percent": "74.7"}), at(2.5))
    assert (on.state, on.brief) == ("Spirit on", "1 h 30 min at 74.7 %")
    typed = {"water1_at": typed_at(1), "water1_litres": "7800", "water1_celsius": "64.1"}
    assert state_of_run(run_of("mash", typed=typed), at(2)).brief == "1 h, 7800 L, 64.1 °C"
    fermenting = state_of_run(run_of("fermentation"), at(41.9))
    assert (fermenting.state, fermenting.brief) == ("41 h", "Fermenting")


def test_the_curve_breaks_while_the_still_stands():
    read = [
        (hour, "distillate_percent", percent)
        for hour, percent in ((1, "74.0"), (1.5, "73.0"), (3, "70.0"), (4, "66.0"))
    ]
    stops = [(2.0, "interruption", "stopped"), (2.5, "interruption", "started again")]

    def lines(readings):
        run = run_of(readings=readings)
        return str(curve_of(run, Usual(), at(4), size=LARGE, name="curve")).count('class="line"')

    assert lines(read) == 1
    assert lines([*read, *stops]) == 2
