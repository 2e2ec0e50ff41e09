"""A figure beside its kind: what counts as its kind, when it speaks, and what the one model is handed of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from distillery.people.models import Person
from ledger.comparing.model.kinds.deviations import deviations_in, deviations_of
from ledger.comparing.model.kinds.equations import kind_equations
from ledger.comparing.observations.from_ledger import log_of
from ledger.comparing.statistics.algebra.problem import RowKind
from ledger.models import Movement
from ledger.posting.accounts import source, vessel_account
from ledger.posting.drafts import FigureTaken, MeasureTaken, Moved
from ledger.posting.post import correct, post
from tests.ledger import plant
from tests.ledger.comparing.far_off import outliers

Write = Callable[..., Movement]
TARE = FigureTaken(name="tare", like="barrel 200 L", field="tare_kg", value=48.0, unit="kg")


def chain(**readings: tuple[float, float]) -> str:
    """The readings kept with a gauge: by column the value and its standard uncertainty."""
    each = ",".join(
        f'{{"part":"{name}","column":"{name}","of":"","instrument":"","value":{value},"unit":"","u":{u},"lpa":1.0,'
        '"percent":0.0}'
        for name, (value, u) in readings.items()
    )
    return f'{{"day":"2027-03-12","readings":[{each}]}}'


READ = chain(tare_kg=(48.0, 0.1), gross_kg=(230.0, 0.3))


@pytest.fixture
def write(staff: Person) -> Write:
    """Posts a filling of casks with figures: write('CF1', 3, [TARE], casks=['C1'])."""

    def movement(number: str, hours: float, figures: Sequence[FigureTaken], casks: Sequence[str] = ("C0",)) -> Movement:
        lines = [
            Moved(
                source("opening stock"),
                vessel_account(plant.vessel(code)),
                plant.quantity(1.0),
                measured=MeasureTaken(name="after", raw={}, method="weight", rule="", chain=READ),
            )
            for code in casks
        ]
        drafted = replace(plant.draft("fill", number, hours, *lines), figures=tuple(figures))
        return post(drafted, person=staff)

    return movement


def tares(*values: float) -> list[FigureTaken]:
    return [replace(TARE, value=value) for value in values]


USUAL = (48.0, 47.0, 49.0, 48.5, 47.5, 48.2, 47.8, 49.5)


def test_it_speaks_from_the_eighth_figure_of_its_kind_on(write: Write) -> None:
    for place, value in enumerate(USUAL):
        write(f"F{place}", place, tares(value))
    assert deviations_in(None) == []
    write("F8", 8, tares(48.1))
    [said] = deviations_in(None)
    assert (said.record, said.counted, said.basis) == ("F8", 8, "8 like it")
    # The median of the eight, by hand.
    assert said.expected == pytest.approx(48.1)
    assert not said.is_outlier


def test_later_figures_and_other_kinds_do_not_count(write: Write) -> None:
    for place, value in enumerate(USUAL):
        write(f"L{place}", 100 + place, tares(value))
        write(f"B{place}", place, [replace(TARE, like="butt 500 L", value=value + 70.0)])
    write("F", 50, tares(48.0))
    assert deviations_of("fill", "F") == []


def test_what_was_taken_back_does_not_count_and_is_not_compared(write: Write, staff: Person) -> None:
    for place, value in enumerate(USUAL):
        write(f"F{place}", place, tares(value))
    wrong = write("F8", 8, tares(480.0))
    assert [one.record for one in outliers()] == ["F8"]
    again = replace(plant.draft("fill", "F8", 8), figures=tuple(tares(48.0)))
    correct([wrong], [again], person=staff, second=None, reason="a nought too many")
    assert outliers() == []
    [said] = deviations_of("fill", "F8")
    assert said.value == 48.0


def test_casks_of_one_fill_are_compared_with_each_other(write: Write) -> None:
    mates = [
        replace(TARE, value=value, beside="F1", parts=((f"tare_kg@C{place}", 1.0),))
        for place, value in enumerate((*USUAL, *USUAL, 68.0))
    ]
    write("F1", 1, mates, casks=[f"C{place}" for place in range(17)])
    [furthest] = outliers()
    assert (furthest.vessel, furthest.field, furthest.counted) == ("C16", "tare_kg", 16)
    assert furthest.sentence == "Tare of cask C16 is 68.0 kg, where 48.1 is usual."
    # Each of the others has fifteen good mates and the wrong one, which does not carry them away.
    assert len(deviations_in(None)) == 17


def test_a_figure_another_reading_makes_expected_needs_no_history(write: Write) -> None:
    figure = FigureTaken(
        name="strength beside the vat",
        like="",
        field="gross_kg",
        value=63.9,
        unit="% vol",
        expected=63.5,
        spread=0.3,
        parts=(("gross_kg@C0", 1.0), ("tare_kg@C0", -1.0)),
    )
    write("F1", 1, [figure])
    [said] = deviations_in(None)
    # 0.3 of its own, 0.3 of the gross and 0.1 of the tare, by squares: 0.19.
    assert said.z == pytest.approx(0.4 / 0.19**0.5)
    assert (said.counted, said.basis) == (0, "another reading of the same work")


def test_rows_of_the_model_leave_the_readings_to_it(write: Write) -> None:
    timed = FigureTaken(name="run time", like="", field="ended_at", value=9.0, unit="h", expected=5.0, spread=0.5)
    hangs = FigureTaken(
        name="strength beside the vat",
        like="",
        field="gross_kg",
        value=65.9,
        unit="% vol",
        expected=63.5,
        spread=0.06,
        parts=(("gross_kg@C0", 1.0), ("tare_kg@C0", -1.0)),
    )
    write("F1", 1, [timed, hangs])
    # A time hangs on no reading of a gauge, so no fault of one explains it: it is a likeness, and no row.
    [row] = [one for one in kind_equations(log_of()) if one.key.startswith("figure:")]
    assert (row.doing.record, row.label, row.kind) == ("F1", "strength beside the vat", RowKind.LIKENESS)
    assert row.key.startswith("figure:F1:strength beside the vat")
    assert row.constant == pytest.approx(2.4)
    assert row.spread == 0.06
    assert dict(row.direct) == {"F1:gross_kg": 1.0, "F1:tare_kg": -1.0}
    assert [one.name for one in outliers()] == ["run time", "strength beside the vat"]


def test_the_key_of_a_figure_is_its_own_whatever_is_put_right_beside_it(write: Write, staff: Person) -> None:
    """An enquiry is found again by it, so a correction elsewhere must not move it."""
    beside_the_vat = FigureTaken(
        name="strength beside the vat",
        like="",
        field="gross_kg",
        value=65.9,
        unit="% vol",
        expected=63.5,
        spread=0.06,
        parts=(("gross_kg@C0", 1.0),),
    )

    def keys(record: str) -> list[str]:
        lines = kind_equations(log_of())
        return [one.key for one in lines if one.key.startswith("figure:") and one.doing.record == record]

    first = write("F1", 1, [beside_the_vat])
    write("F2", 5, [beside_the_vat])
    before = keys("F2")
    assert len(before) == 1
    correct([first], [plant.draft("fill", "F1", 1)], person=staff, second=None, reason="it was not proved")
    assert keys("F1") == []
    assert keys("F2") == before


def test_a_month_knows_what_was_usual_before_it(write: Write) -> None:
    for place, value in enumerate(USUAL):
        write(f"F{place}", place - 800, tares(value))
    write("F8", 8, tares(60.0))
    whole = [one for one in deviations_in(None) if one.record == "F8"]
    assert deviations_in("2027-03") == deviations_of("fill", "F8") == whole != []


def test_what_was_usual_long_ago_is_not_usual_now(write: Write) -> None:
    for place, value in enumerate(USUAL):
        write(f"F{place}", place - 500 * 24, tares(value))
    write("F8", 8, tares(60.0))
    assert deviations_of("fill", "F8") == []


def test_it_asks_four_times_however_many_there_are(write: Write) -> None:
    for place in range(30):
        write(f"F{place}", place, [*tares(48.0 + place % 3), replace(TARE, name="hung", parts=(("tare_kg@C0", 1.0),))])
    with CaptureQueriesContext(connection) as asked:
        assert len(deviations_in(None)) > 15
    assert len(asked) <= 4
