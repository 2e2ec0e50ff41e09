"""Bulk removal: spirit leaving bond out of a vat, tank or receiver, which is gauged before and after.

What is gone between the two gauges is what left. It bears no label, so duty takes the strength of the gauge before, cut
down to one decimal (SI 2023/806 reg 3(5)-(6)).
"""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.cautions import STATIC, VAPOUR
from batches.sheets.sheet import Gauge, Leaves, Moment, Phase, Posting, Problem, Role, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.dispatch import (
    REPORT,
    left_for,
    measured_arrival,
    missing_papers,
    odd_reference,
    other_end,
    papers,
    papers_in_part,
)
from batches.steps.shared.dispatch_results import (
    EndToEnd,
    Leaving,
    by_strength,
    duties_due,
    measured,
    reason_for_difference,
    results_of_leaving,
)
from distillery import figures
from ledger.posting.accounts import gauging, removal


def removed(written: Completed) -> Posting:
    """The vessel before, what left it, the vessel after; with the duty due."""
    vessel = written.vessel("vessel")
    return Posting(
        (
            written.taken("vessel_before", gauging(vessel)),
            written.taken("vessel_after", removal(written.text("kind"))),
        ),
        duties_due(written, what_left(written)),
    )


def what_left(written: Completed) -> list[Leaving]:
    """What the vessel gave between its gauges, at the strength of the gauge before."""
    before, after = written.quantity("vessel_before"), written.quantity("vessel_after")
    litres20 = before.litres20 - after.litres20
    what = f"Bulk out of {written.vessel('vessel').code}"
    return [measured(what, litres20, before.percent20, before.pure_ul - after.pure_ul)]


def end_to_end(written: Completed) -> EndToEnd | None:
    """What left the vessel, and what was reported of it."""
    return by_strength(written, sum(one.pure_ul for one in what_left(written)))


def to_be_right(written: Completed) -> list[Problem]:
    """Papers that goods may leave with, a vessel that gave something, and a reason for what did not arrive."""
    found = [*papers_in_part(written), *something_left(written)]
    return found or reason_for_difference(written, end_to_end(written))


def something_left(written: Completed) -> list[Problem]:
    """A vessel that holds as much after as before gave nothing."""
    before, after = written.quantity("vessel_before"), written.quantity("vessel_after")
    if after.pure_ul < before.pure_ul:
        return []
    said = (
        f"{written.vessel('vessel').code} holds {figures.lpa(after.pure_ul)} LPA after and "
        f"{figures.lpa(before.pure_ul)} LPA before, so nothing left it; check both gauges."
    )
    return [Problem("vessel_after_dip_mm", None, said)]


SHEET = Sheet(
    kind="bulk_removal",
    title="Bulk removal",
    plural="Bulk removals",
    operation="bulk removal",
    table="bulk_removals",
    prefix="BR",
    number_column="removal",
    # Goods are sent out or destroyed.
    signs=True,
    second_where="authority",
    moments=(Moment(name="removed", label="Removal", when="at", phase=Phase.MOVE, post=removed), REPORT),
    sections=(
        Section(
            heading="What left, and where to",
            items=(fields.when("at", "Left at"), fields.vessel("vessel", "Out of", *fields.DIPPED), left_for()),
        ),
        Section(
            heading="Vessel",
            items=(
                Gauge(prefix="vessel_before", label="Vessel before", vessel="vessel", role=Role.BEFORE),
                Gauge(prefix="vessel_after", label="Vessel after", vessel="vessel", role=Role.AFTER),
            ),
        ),
        *papers(),
        other_end(*measured_arrival()),
    ),
    cautions=(STATIC, VAPOUR),
    list_columns=("at", "vessel", "kind", "consignee", "document"),
    after="cask_removal",
    leaves=Leaves(left_for="kind", consignee="consignee", document="document", named=("vessel",)),
    printed_title="Removal of bulk spirit from bond",
    check=to_be_right,
    check_on_page=missing_papers,
    note=odd_reference,
    results=results_of_leaving(what_left, end_to_end),
)
