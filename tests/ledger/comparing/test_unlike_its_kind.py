"""A figure unlike its kind becomes a finding where no balance speaks of it. All figures are invented."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from distillery.alcoholometry.quantity import NOTHING
from distillery.people.models import Person
from ledger.comparing.findings.finding import LIKENESS
from ledger.comparing.findings.unlike import unlike_findings
from ledger.comparing.model.kinds.deviations import deviations_in
from ledger.comparing.month import findings
from ledger.posting.drafts import Draft, FigureTaken, Moved
from ledger.posting.post import correct, post
from tests.ledger import plant

pytestmark = pytest.mark.django_db

START = datetime(2027, 3, 1, 6, tzinfo=UTC)


def run(number: int, hours: float) -> Draft:
    """A run whose only figure is how long it took."""
    figure = FigureTaken("run time", "S1", "ended_at", hours, "h")
    still = plant.vessel_account(plant.vessel("S1"))
    lines = (Moved(still, plant.loss("spent lees"), NOTHING),)
    return Draft(
        "spirit_run",
        "spirit run",
        START + timedelta(days=number),
        "spirit_run",
        f"R{number}",
        "finish",
        lines,
        figures=(figure,),
    )


def test_a_run_time_unlike_all_others_is_found_and_goes_when_it_is_put_right(manager: Person) -> None:
    for number, hours in enumerate((6.0, 6.1, 5.9, 6.2, 6.0, 5.8, 6.1, 6.0, 6.1, 5.9, 6.0, 6.1), start=1):
        post(run(number, hours), person=manager)
    assert findings("2027-03") == []
    odd = post(run(13, 16.0), person=manager)
    (found,) = findings("2027-03")
    assert (found.kind, found.record, found.operation) == (LIKENESS, "R13", "run time")
    assert [(one.field, one.written, one.would_be) for one in found.likely] == [("ended_at", "16.0", "6.0")]
    assert found.beside_usual is not None
    assert (found.beside_usual.figure, found.beside_usual.usual, found.beside_usual.unit) == (16.0, 6.0, "h")
    assert 0.0 < found.beside_usual.uncertainty < 1.0
    correct([odd], [run(13, 6.0)], person=manager, reason="the clock was read a morning late")
    assert findings("2027-03") == []


def test_too_few_of_a_kind_say_nothing(manager: Person) -> None:
    for number, hours in enumerate((6.0, 6.1, 5.9, 6.2, 16.0), start=1):
        post(run(number, hours), person=manager)
    assert findings("2027-03") == []


def test_a_figure_that_is_a_row_of_the_model_is_judged_there_alone(manager: Person) -> None:
    for number, hours in enumerate((6.0, 6.1, 5.9, 6.2, 6.0, 5.8, 6.1, 6.0, 6.1, 5.9, 6.0, 6.1, 16.0), start=1):
        post(run(number, hours), person=manager)
    figures = deviations_in("2027-03")
    assert [one.record for one in unlike_findings(figures, [])] == ["R13"]
    assert unlike_findings(figures, [], in_model={("R13", "run time")}) == []
