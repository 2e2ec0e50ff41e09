"""What a regauge says beside its band, worked by hand on the plain plant.

The band is the site's first, 1 to 3 % a year. Figures are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from batches.models import Record
from batches.pages.records.shown import RecordAsWritten
from batches.pages.results import as_it_stands, results_of
from batches.records import recording
from batches.records.asking import Asked
from batches.sheets.site import Site
from batches.steps import sheet_of
from distillery.people.models import Person
from tests.batches.steps.test_disgorging import FILLED, line, weighed

Write = Callable[..., Record]
NOW = datetime(2027, 5, 1, 8, tzinfo=UTC)


def said(record: Record) -> dict[str, str]:
    standing = as_it_stands(RecordAsWritten(record, sheet_of("regauge")), Site())
    (table,) = results_of(standing, NOW)
    return {row.cells[0]: row.cells[1] for row in table.lines}


def test_a_year_and_then_half_a_year(write: Write) -> None:
    write("opening_cask", number="C1", **FILLED)
    first = write("regauge", "RG0001", at="2027-03-06T08:00", **line("C1", "227", "63.3"))
    filled, held = weighed("230", "63.5"), weighed("227", "63.3")
    found = said(first)
    assert found["Held"] == f"{held:.2f}"
    assert found["Expected"] == f"{0.98 * filled:.2f}"
    assert found["Band"] == f"{0.97 * filled:.2f} to {0.99 * filled:.2f}"
    rate = f"{100 * (1 - held / filled):.2f}"
    assert found["Loss a year since filling"] == rate
    assert "Loss a year since it was last measured" not in found
    assert found["Fall in strength a year"] == "0.20"
    assert "The wood may hold" not in found
    later = said(write("regauge", "RG0002", at="2027-05-01T08:00", **line("C1", "225.6", "63.2")))
    years = (
        (datetime(2027, 5, 1, 7, tzinfo=UTC) - datetime(2027, 3, 6, 8, tzinfo=UTC)).total_seconds() / 86_400 / 365.25
    )
    rate = 100 * (1 - (weighed("225.6", "63.2") / held) ** (1 / years))
    assert float(later["Loss a year since it was last measured"]) == pytest.approx(rate, abs=0.01)


def test_the_wood_is_said_apart_in_the_first_year(write: Write) -> None:
    """Half a year is about half of 3 % of the filling (process reference, section H: 0 to 3 %)."""
    write("opening_cask", **{**FILLED, "number": "C1", "filled_at": "2026-09-04T17:00"})
    found = said(write("regauge", "RG0001", at="2027-03-06T08:00", **line("C1", "228", "63.3")))
    assert float(found["The wood may hold"]) == pytest.approx(0.5 * 0.03 * 0.99 * weighed("230", "63.5"), rel=0.02)


@pytest.mark.parametrize(("gross", "sentence"), [("215", "Look for a leak"), ("232", "a cask cannot gain")])
def test_what_is_asked(write: Write, staff: Person, gross: str, sentence: str) -> None:
    write("opening_cask", number="C1", **FILLED)
    values = {"at": "2027-03-06T08:00", **line("C1", gross, "63.5")}
    with pytest.raises(Asked, match=sentence):
        recording.save("regauge", "RG0001", values, (), person=staff)


def test_its_years_are_drawn(write: Write) -> None:
    write("opening_cask", number="C1", **FILLED)
    write("regauge", "RG0001", at="2027-03-06T08:00", **line("C1", "227", "63.3"))
    record = write("regauge", "RG0002", at="2027-04-06T08:00", **line("C1", "226.8", "63.3"))
    standing = as_it_stands(RecordAsWritten(record, sheet_of("regauge")), Site())
    assert standing.sheet.pictures is not None
    (plot,) = standing.sheet.pictures(standing, NOW)
    measured = plot.lines[0].points
    assert [round(lpa, 3) for _, lpa in measured] == [
        round(weighed(*one), 3) for one in (("230", "63.5"), ("227", "63.3"), ("226.8", "63.3"))
    ]
    assert plot.band[0][1:] == pytest.approx((measured[0][1], measured[0][1]))
