"""Removal: bottles leaving bond, with duty worked out where they go to home use.

Rate and strength are those of the day the spirit leaves; strength is the label's, cut down to one decimal (Alcoholic
products technical guide, section 11). The figure is an aid: the law and the officer decide.
"""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.sheet import BottlesLeave, Field, Kind, Moment, Phase, Posting, Problem, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.values import Ungaugeable
from batches.steps.shared.stock import STOCK_FIELDS, bottles_in_stock, bottles_moved, stock_account, stock_name
from distillery import figures
from distillery.clock.reading import site_day
from distillery.rules.in_force import DutyNotKnown, NoDutyRate, duty_on_line
from ledger.posting.accounts import removal
from ledger.posting.drafts import DutyDue

HOME_USE = "home use"
KINDS = (HOME_USE, "export", "under bond", "samples", "destroyed under witness")


def removed(written: Completed) -> Posting:
    """The bottles from stock to where they went, with the duty due."""
    kind = written.text("kind")
    moved = bottles_moved(written, stock_account(written), removal(kind))
    return Posting((moved,), (duty_due(written),) if kind == HOME_USE else ())


def duty_due(written: Completed) -> DutyDue:
    """Duty on the whole line at the rate of the day, or why it is not known.

    Raises Ungaugeable for a day before any rate and for a strength that bears none.
    """
    litres20 = written.whole("bottles") * written.decimal("bottle_centilitres") / 100
    percent = written.decimal("label_percent")
    day = site_day(written.moment("at"))
    try:
        due = duty_on_line(day, litres20, percent)
    except DutyNotKnown as unknown:
        lpa = litres20 * percent / 100
        return DutyDue(HOME_USE, "", litres20, percent, lpa, None, None, str(unknown))
    except NoDutyRate as error:
        raise Ungaugeable("at", str(error)) from error
    return DutyDue(
        removal=HOME_USE,
        tax_type=due.rate.tax_type,
        litres20=litres20,
        percent=due.percent,
        lpa=due.lpa,
        rate_pence_hundredths=due.rate.pence_hundredths_per_lpa,
        pence=due.pence,
        source=due.rate.source,
    )


def enough_bottles(written: Completed) -> list[Problem]:
    """Bottles that are not there cannot leave."""
    wanted = written.whole("bottles")
    there = bottles_in_stock(written)
    if wanted <= there:
        return []
    return [
        Problem(
            "bottles",
            None,
            f"Bottles is {figures.count(wanted)}, but there are {figures.count(there)} bottles of "
            f"{stock_name(written)} in bond at that time.",
        )
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
    moments=(Moment(name="removed", label="Removal", when="at", phase=Phase.MOVE, post=removed),),
    sections=(
        Section(
            heading="What left, and where to",
            items=(
                fields.when("at", "Left at"),
                *STOCK_FIELDS,
                Field(name="kind", label="Left for", kind=Kind.CHOICE, choices=KINDS),
                fields.text("consignee", "Name and address of the consignee", required=False),
                fields.text("document", "Document number", required=False, found_as="document", longest=120),
            ),
        ),
    ),
    list_columns=("at", "product", "bottle_centilitres", "label_percent", "bottles", "kind"),
    after="bottling",
    bottles_leave=BottlesLeave(product="product", bottles="bottles", left_for="kind"),
    printed_title="Removal from bond",
    check=enough_bottles,
)
