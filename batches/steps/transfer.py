"""Transfer: spirit or low wines from one vessel to another, both gauged before and after."""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.cautions import STATIC, VAPOUR
from batches.sheets.sheet import Gauge, Moment, Phase, Posting, Problem, Role, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.figures import Compared, Held, against
from batches.steps.shared.judged import what_left
from distillery.alcoholometry.mixing import Part, blend
from ledger.posting.accounts import difference, gauging
from ledger.posting.drafts import FigureTaken


def moved(written: Completed) -> Posting:
    """Both vessels brought to their gauges; what one lost and the other did not gain is the difference."""
    giver, taker = written.vessel("from_vessel"), written.vessel("to_vessel")
    return Posting(
        (
            written.taken("from_before", gauging(giver)),
            written.taken("to_before", gauging(taker)),
            written.taken("from_after", difference("transfer"), stage=giver.stage),
            written.taken("to_after", difference("transfer"), stage=giver.stage),
        ),
        figures=compared(written),
        judged=what_left(written, "what left the giver", ("from_before", "from_after")),
    )


def compared(written: Completed) -> tuple[FigureTaken, ...]:
    """The strength it came to, beside the strength it came from mixed with what was there."""

    def mixed(came_from: Held, there: Held, after: Held) -> float:
        return blend((there.part, Part(after.litres - there.litres, came_from.percent))).percent20

    gauges = [(written, name) for name in ("from_before", "to_before", "to_after")]
    found = Compared(written.moment("at"))
    found.with_reading(
        "strength beside where it came from",
        lambda: against(lambda *held: held[-1].percent, mixed, *gauges),
        field="to_after_hydrometer_percent",
        unit="% vol",
    )
    return found.figures


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
    moments=(Moment(name="moved", label="Transfer", when="at", phase=Phase.MOVE, post=moved),),
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
    after="third_still_run",
    printed_title="Transfer between vessels",
    check=two_vessels,
)
