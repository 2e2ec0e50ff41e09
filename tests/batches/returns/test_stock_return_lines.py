"""Each way out of the warehouse has its line of the stock return, and bottles are counted beside the alcohol.

Lines and counts: Excise Warehouse Return W1, 08/2012, as far as it was seen. Twenty bottles of 70 cl at 40 % vol are
5.6 LPA.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from batches.models import Record, State
from batches.records import recording
from batches.returns.containers import Containers
from batches.returns.figures import MonthFigures, return_figures
from distillery.people.models import Person

Write = Callable[..., Record]
pytestmark = pytest.mark.django_db
GIN = {"product": "gin", "bottle_centilitres": "70", "label_percent": "40"}


@pytest.mark.parametrize(
    ("kind", "line", "nil"),
    [
        ("home use", "to home use", False),
        ("constructive removal", "to home use", False),
        ("export", "to export and stores", False),
        ("under bond", "to other UK warehouses", False),
        ("samples", "other duty-free uses", True),
        # SI 2010/593, regulation 21(2)(d): destroyed with authority, which is neither released nor lost.
        ("destroyed under witness", "destroyed with authority", True),
    ],
)
def test_what_leaves_stands_on_its_line(kind: str, line: str, nil: bool, write: Write, manager: Person) -> None:
    write("opening_bottled_stock", at="2027-03-01T06:00", bottles="100", **GIN)
    more = {"authority": "AU-1", "witness": "T. Harrow"} if kind == "destroyed under witness" else {}
    more |= {"stays_at": "the shop"} if kind == "constructive removal" else {}
    record = write("removal", at="2027-03-09T08:00", kind=kind, bottles="20", **GIN, **more)
    if record.state == State.WAITING:
        recording.countersign(record, manager)
    march = return_figures("2027-03")
    assert isinstance(march, MonthFigures)
    [bottled] = [one for one in march.classes if one.stage == "bottled under bond"]
    assert {name: amount for name, amount in bottled.lines.items() if amount} == {line: 5_600_000}
    assert (bottled.out_ul, bottled.losses_ul, bottled.foots) == (5_600_000, 0, True)
    # What stands as the books begin is what the month opens with; no receipt of the month.
    assert bottled.lie_in == Containers("bottles", 100, 80)
    # Nothing is declared of samples and of what was destroyed; the month is a nil return (technical guide, 5.1).
    assert march.is_nil is nil


def test_a_month_that_stock_periods_cut_through_counts_by_time(small_books: None) -> None:
    """The stock period 2027-07 begins on 28 June, so that June has no period of its own."""
    march, june = return_figures("2027-03"), return_figures("2027-06")
    assert isinstance(march, MonthFigures)
    assert isinstance(june, MonthFigures)
    assert not june.span.periods
    ended = {one.stage: one.lie_in for one in march.classes if one.lie_in is not None}
    for one in june.classes:
        if one.lie_in is not None:
            before = ended[one.stage]
            assert before is not None
            assert (one.lie_in.opening, one.lie_in.closing) == (before.closing, before.closing)
    assert any(one is not None and one.closing for one in ended.values())
