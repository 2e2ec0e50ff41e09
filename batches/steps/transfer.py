"""Transfer: spirit or low wines from one vessel to another, both gauged before and after."""

from __future__ import annotations

from batches import fields
from batches.cautions import STATIC, VAPOUR
from batches.completed import Completed
from batches.sheet import Gauge, Moment, Posting, Problem, Role, Section, Sheet
from ledger.accounts import difference, gauging


def moved(written: Completed) -> Posting:
    """Both vessels brought to their gauges; what one lost and the other did not gain is the difference."""
    giver, taker = written.vessel("from_vessel"), written.vessel("to_vessel")
    return Posting(
        (
            written.taken("from_before", gauging(giver)),
            written.taken("to_before", gauging(taker)),
            written.taken("from_after", difference("transfer"), stage=giver.stage),
            written.taken("to_after", difference("transfer"), stage=giver.stage),
        )
    )


def two_vessels(written: Completed) -> list[Problem]:
    """A vessel cannot be emptied into itself."""
    if written.vessel("from_vessel") != written.vessel("to_vessel"):
        return []
    code = written.vessel("to_vessel").code
    return [Problem("to_vessel", None, f"To vessel is {code}, the vessel it is moved from.")]


SHEET = Sheet(
    kind="transfer",
    title="Transfer",
    plural="Transfers",
    operation="transfer",
    table="transfers",
    prefix="TR",
    number_column="transfer",
    moments=(Moment(name="moved", label="Transfer", when="at", order=20, post=moved),),
    sections=(
        Section(
            heading="Vessels",
            items=(
                fields.when("at", "Moved at"),
                fields.vessel("from_vessel", "From vessel", *fields.DIPPED),
                fields.vessel("to_vessel", "To vessel", *fields.DIPPED),
            ),
        ),
        Section(
            heading="Before",
            items=(
                Gauge(prefix="from_before", label="From vessel before", vessel="from_vessel", role=Role.BEFORE),
                Gauge(prefix="to_before", label="To vessel before", vessel="to_vessel", role=Role.BEFORE),
            ),
        ),
        Section(
            heading="After",
            items=(
                Gauge(prefix="from_after", label="From vessel after", vessel="from_vessel", role=Role.AFTER),
                Gauge(prefix="to_after", label="To vessel after", vessel="to_vessel", role=Role.AFTER),
            ),
        ),
    ),
    cautions=(STATIC, VAPOUR),
    list_columns=("at", "from_vessel", "to_vessel", "from_before_dip_mm", "to_after_dip_mm"),
    printed_title="Transfer between vessels",
    check=two_vessels,
)
