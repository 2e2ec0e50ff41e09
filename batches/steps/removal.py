"""Removal: bottles leaving bond, with duty worked out where it falls due.

Rate and strength are those of the day the spirit reaches its duty point; strength is the label's, cut down to one
decimal (Alcoholic products technical guide, section 11). The figure is an aid: the law and the officer decide.
"""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.sheet import (
    BottlesLeave,
    Field,
    Kind,
    Leaves,
    Moment,
    Phase,
    Posting,
    Problem,
    Section,
    Sheet,
)
from batches.sheets.typed.completed import Completed
from batches.steps.shared.dispatch import (
    REPORT,
    left_for,
    missing_papers,
    odd_reference,
    other_end,
    papers,
    papers_in_part,
)
from batches.steps.shared.dispatch_results import (
    EndToEnd,
    Leaving,
    duties_due,
    reason_for_difference,
    results_of_leaving,
)
from batches.steps.shared.stock import (
    LOT_OF_BOTTLES,
    STOCK_FIELDS,
    bottles_moved,
    enough_bottles,
    one_bottle,
    stock_account,
    stock_name,
)
from distillery import figures
from ledger.posting.accounts import removal


def removed(written: Completed) -> Posting:
    """The bottles from stock to where they went, with the duty due."""
    moved = bottles_moved(written, stock_account(written), removal(written.text("kind")))
    return Posting((moved,), duties_due(written, what_left(written)))


def what_left(written: Completed) -> list[Leaving]:
    """The bottles by their label."""
    bottles = written.whole("bottles")
    litres20 = bottles * written.decimal("bottle_centilitres") / 100
    what = f"{figures.count(bottles)} bottles of {stock_name(written)}"
    return [Leaving(what, litres20, written.decimal("label_percent"), bottles * one_bottle(written).pure_ul)]


def end_to_end(written: Completed) -> EndToEnd | None:
    """The bottles that were sent and those that arrived: counted, so that any difference is looked into."""
    if not written.has("bottles_arrived"):
        return None
    bottle = one_bottle(written).pure_ul
    return EndToEnd(written.whole("bottles") * bottle, written.whole("bottles_arrived") * bottle, 0)


def to_be_right(written: Completed) -> list[Problem]:
    """Papers that goods may leave with, bottles that are there, and a reason for what did not arrive."""
    return [
        *papers_in_part(written),
        *enough_bottles(written),
        *reason_for_difference(written, end_to_end(written)),
    ]


SHEET = Sheet(
    kind="removal",
    title="Removal",
    plural="Removals",
    operation="removal",
    table="removals",
    prefix="RM",
    number_column="removal",
    # Goods are sent out or destroyed.
    signs=True,
    second_where="authority",
    moments=(Moment(name="removed", label="Removal", when="at", phase=Phase.MOVE, post=removed), REPORT),
    sections=(
        Section(
            heading="What left, and where to",
            items=(fields.when("at", "Left at"), *STOCK_FIELDS, LOT_OF_BOTTLES, left_for()),
        ),
        *papers(),
        other_end(
            Field(
                name="bottles_arrived",
                label="Bottles that arrived",
                kind=Kind.WHOLE,
                impossible_below=fields.NOTHING,
                impossible_above=fields.MOST_THINGS,
                required=False,
            )
        ),
    ),
    list_columns=("at", "product", "bottle_centilitres", "label_percent", "bottles", "kind"),
    after="bottling",
    bottles_leave=BottlesLeave(product="product", bottles="bottles", left_for="kind"),
    leaves=Leaves(left_for="kind", consignee="consignee", document="document", named=("bottles", "product")),
    printed_title="Removal from bond",
    check=to_be_right,
    check_on_page=missing_papers,
    note=odd_reference,
    results=results_of_leaving(what_left, end_to_end),
)
