"""The word a run is in, what can come next, and what takes the distillate: a spirit run from charge to feints."""

from __future__ import annotations

from made_up import at, run_of, typed_at

from batches.pages.running.shown import state_of_run

CUTS = {"spirit_on_at": typed_at(1), "cut_on_percent": "74.7", "spirit_off_at": typed_at(3), "cut_off_percent": "62.0"}


def said(run):
    return [(span.state, span.into, span.since) for span in run.spans]


def coming(run):
    return [event.name for event in run.may_come()]


def test_before_the_first_cut():
    run = run_of()
    assert said(run) == [("Foreshots", "feints_receiver", at(0))]
    assert coming(run) == ["spirit_on", "stop"]


def test_between_the_cuts_and_after_them():
    on = run_of(typed={"spirit_on_at": typed_at(1)})
    assert said(on)[-1] == ("Spirit on", "spirit_receiver", at(1))
    assert coming(on) == ["spirit_off", "stop"]
    off = run_of(typed=CUTS)
    assert [state for state, *_ in said(off)] == ["Foreshots", "Spirit on", "Feints"]
    assert [span.until for span in off.spans] == [at(1), at(3), None]
    assert coming(off) == ["stop"]
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
    assert coming(run) == ["start_again"]
    started = run_of(typed={"spirit_on_at": typed_at(1)}, readings=[*stops, (3.0, "interruption", "started again")])
    assert coming(started) == ["spirit_off", "stop"]
    assert started.started_again == at(3)


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
