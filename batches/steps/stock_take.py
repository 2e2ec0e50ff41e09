"""Stock take: vessels gauged against their books. It is posted only when a second person has agreed to it."""

from __future__ import annotations

from batches import fields
from batches.cautions import VAPOUR
from batches.completed import Completed
from batches.sheet import Gauge, Moment, Posting, Problem, Role, Rows, Section, Sheet
from batches.wash import holds_wash
from ledger.accounts import gauging


def taken(written: Completed) -> Posting:
    """Each vessel's book brought to its gauge, against what its gauging found."""
    return Posting(tuple(line.taken("gauge", gauging(line.vessel("vessel"))) for line in written.rows))


def no_wash(written: Completed) -> list[Problem]:
    """A washback is counted only where it is empty."""
    return [problem for index, line in enumerate(written.rows) for problem in holds_wash(line, "gauge", index)]


SHEET = Sheet(
    kind="stock_take",
    title="Stock take",
    plural="Stock takes",
    operation="stock take",
    table="stock_take",
    prefix="ST",
    identity=("at",),
    moments=(Moment(name="taken", label="Stock take", when="at", order=40, post=taken),),
    sections=(Section(heading="Stock take", items=(fields.when("at", "Taken at"),)),),
    rows=Rows(
        heading="Vessels",
        one="vessel",
        each="vessel",
        items=(
            fields.vessel("vessel", "Vessel", *fields.DIPPED_OR_EMPTY_WASHBACK),
            Gauge(prefix="gauge", label="Gauge", vessel="vessel", role=Role.BEFORE),
        ),
    ),
    cautions=(VAPOUR,),
    list_columns=("at",),
    second_person=True,
    check=no_wash,
    printed_title="Stock take",
)
