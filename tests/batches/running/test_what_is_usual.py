"""The band of the last runs, the plan of a cut, and what a receiver holds by estimate; all figures worked by hand."""

from __future__ import annotations

from datetime import timedelta

import pytest
from made_up import at, run_of, typed_at

from batches.running.before import Usual
from batches.running.filling import Gauged, fillings, hours_into

STRENGTH = "distillate_percent"


def past(number: str, *, start: float, off: float, percent: str, ended: float = 5.0):
    """A run whose strength fell by 5 % vol an hour from `start`, with spirit from 1 h to `off`."""
    return run_of(
        number=number,
        readings=[(hour, STRENGTH, f"{start - 5 * hour:.1f}") for hour in range(5)],
        typed={
            "spirit_receiver": "SR",
            "spirit_on_at": typed_at(1),
            "spirit_off_at": typed_at(off),
            "cut_off_percent": percent,
        },
        ended=ended,
    )


RUNS = (
    past("SR0001", start=80, off=3.0, percent="61.0"),
    past("SR0002", start=78, off=3.0, percent="62.0", ended=5.5),
    past("SR0003", start=76, off=3.5, percent="64.0", ended=7.0),
)


def test_the_band_goes_from_the_lowest_to_the_highest_of_the_runs():
    band = Usual(RUNS).band()
    assert band[0] == (0.0, 76.0, 80.0)
    assert band[-1] == (4.0, 56.0, 60.0)
    # Half way down between two readings.
    assert (1.5, pytest.approx(68.5), pytest.approx(72.5)) in band
    assert Usual(RUNS[:2]).band() == []


def test_the_plan_is_the_middle_of_the_last_runs():
    usual, off = Usual(RUNS), RUNS[0].running.event("spirit_off")
    assert off is not None
    assert usual.figure("cut_off_percent") == 62.0
    assert usual.after(off) == timedelta(hours=3)
    assert usual.length == timedelta(hours=5.5)
    assert usual.first_reading == timedelta(0)
    assert Usual(RUNS[:2]).figure("cut_off_percent") is None


GAUGES = {
    (number, name): gauged
    for number, before, after in (
        ("SR0001", Gauged(100, 65), Gauged(700, 475)),
        ("SR0002", Gauged(0, 0), Gauged(640, 440)),
        ("SR0003", Gauged(50, 35), Gauged(750, 515)),
    )
    for name, gauged in (("spirit_before", before), ("spirit_after", after))
} | {("SR0009", "spirit_before"): Gauged(400, 280)}
ON = {"spirit_receiver": "SR", "feints_receiver": "FR", "spirit_on_at": typed_at(1)}


def spirit_receiver(now: float, capacity: float | None, *, typed: dict[str, str] = ON, runs=RUNS, readings=()):
    run = run_of(number="SR0009", typed=typed, readings=readings)
    found = fillings(run, Usual(runs), GAUGES, {"SR": capacity}, at(now))
    return next(one for one in found if one.field == "spirit_receiver")


def test_a_receiver_fills_as_it_usually_did():
    # Gained before: 600, 640, 700 L and 410, 440, 480 LPA in 2, 2 and 2.5 h; in the middle 640 L, 440 LPA in 2 h.
    half = spirit_receiver(2.0, 1000)
    assert half.gained == Gauged(320, 220)
    assert half.litres == 720
    assert not half.near_full
    # 400 + 640 x 1.5625 / 2 is 900 L, nine tenths of what it can hold.
    assert spirit_receiver(2.5625, 1000).near_full
    assert not spirit_receiver(2.56, 1000).near_full
    assert not spirit_receiver(9, None).near_full


def test_it_fills_no_more_once_the_spirit_is_off_or_the_still_stopped():
    off = spirit_receiver(6.0, 1000, typed={**ON, "spirit_off_at": typed_at(2)})
    assert off.gained == Gauged(320, 220)
    assert not off.taken_now
    stopped = spirit_receiver(6.0, 1000, readings=[(2.0, "interruption", "stopped")])
    assert stopped.gained == Gauged(320, 220)
    assert hours_into(RUNS[2], "spirit_receiver", at(7)) == 2.5


def test_of_fewer_than_three_runs_nothing_is_estimated():
    assert spirit_receiver(2.0, 1000, runs=RUNS[:2]).gained is None
    assert spirit_receiver(2.0, 1000, runs=RUNS[:2]).litres is None


def test_the_next_receiver_fills_from_its_own_gauge_and_the_first_is_measured():
    typed = {**ON, "spirit_receiver_changed_at": typed_at(2), "next_spirit_receiver": "SR2"}
    run = run_of(number="SR0009", typed=typed)
    gauges = GAUGES | {
        ("SR0009", "spirit_receiver_filled"): Gauged(800, 560),
        ("SR0009", "next_spirit_receiver_before"): Gauged(100, 70),
    }
    found = {one.field: one for one in fillings(run, Usual(RUNS), gauges, {"SR": 1000, "SR2": 400}, at(3))}
    first, then = found["spirit_receiver"], found["next_spirit_receiver"]
    assert (first.gained, first.measured, first.taken_now) == (Gauged(400, 280), True, False)
    # Usually 640 L in 2 h: 320 in the hour since, on top of the 100 that stood there; more than nine tenths of 400.
    assert (then.vessel, then.gained, then.litres, then.measured) == ("SR2", Gauged(320, 220), 420, False)
    assert then.near_full


def test_runs_whose_receiver_was_changed_teach_what_both_took():
    changed = run_of(
        number="SR0004",
        typed={
            "spirit_receiver": "SR",
            "spirit_on_at": typed_at(1),
            "spirit_receiver_changed_at": typed_at(2),
            "next_spirit_receiver": "SR2",
            "spirit_off_at": typed_at(3),
        },
        ended=5.0,
    )
    gauges = GAUGES | {
        ("SR0004", "spirit_before"): Gauged(0, 0),
        ("SR0004", "spirit_receiver_filled"): Gauged(400, 280),
        ("SR0004", "next_spirit_receiver_before"): Gauged(50, 30),
        ("SR0004", "spirit_after"): Gauged(250, 150),
    }
    run = run_of(number="SR0009", typed=ON)
    found = fillings(run, Usual((changed, changed, changed)), gauges, {"SR": None}, at(2.0))
    # 400 L and 200 L in 2 h, so 300 in one.
    assert next(one for one in found if one.field == "spirit_receiver").gained == Gauged(300, 200)
