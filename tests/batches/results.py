"""What steps make of records, as tests look into it: facts by their labels, tables by their headings."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime

from batches.models import Record
from batches.pages.records.shown import RecordAsWritten
from batches.pages.results import as_it_stands, results_of
from batches.sheets.register import sheet_of
from batches.sheets.results import COMES_TO, PASS, STATES, Line, Result
from batches.sheets.site import Site
from distillery.pages import Fact
from distillery.process.product_names import Outcome

LATER = datetime(2027, 5, 1, tzinfo=UTC)
OUTCOMES = {state: outcome for outcome, state in STATES.items()}


def made_of(record: Record, now: datetime = LATER) -> list[Result]:
    """The results of a record as it stands, in order."""
    return results_of(as_it_stands(RecordAsWritten(record, sheet_of(record.kind)), Site()), now)


def made_under(record: Record, heading: str) -> Result:
    """The one whose heading begins like this."""
    return next(one for one in made_of(record) if one.heading.startswith(heading))


def facts_in(found: Iterable[Result]) -> dict[str, Fact]:
    """What it comes to, by label."""
    lines = [line for one in found if one.heading == COMES_TO for line in one.lines]
    return {one.cells[0]: Fact(*one.cells[:3], href=one.href, note=one.cells[3], state=one.state) for one in lines}


def outcome_in(line: Line) -> Outcome:
    """What a line of checks comes to."""
    assert (line.state is None) == (line.cells[1] == PASS)
    return OUTCOMES[line.state] if line.state is not None else Outcome.PASS
