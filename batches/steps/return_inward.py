"""Return inward: bottles that come back into bond, with why, on what document, and in what condition.

Quantity and strength of what is returned are recorded (Alcoholic products technical guide, section 9). What comes back
is suspended stock again; where its duty was paid, drawback is claimed apart and noted here. What is spoilt comes into
stock with the rest, so that it is in the books until it is destroyed or reprocessed.
"""

from __future__ import annotations

from datetime import datetime

from batches.sheets import fields
from batches.sheets.cautions import GLASS
from batches.sheets.comes_back import ComesBack
from batches.sheets.results import COMES_TO, Head, Line, Result
from batches.sheets.sheet import Field, Kind, Moment, Note, Phase, Posting, Problem, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.stock import LOT_OF_BOTTLES, STOCK_FIELDS, bottles_moved, one_bottle, stock_account
from distillery import figures
from ledger.posting.accounts import source
from ledger.posting.boundary import RETURNED_DUTY_PAID, RETURNED_UNDER_BOND

BOND, PAID = "under bond", "duty paid, drawback claimed"
SOURCES = {BOND: RETURNED_UNDER_BOND, PAID: RETURNED_DUTY_PAID}


def returned(written: Completed) -> Posting:
    """The bottles back into their stock, from where they had gone."""
    came_from = source(SOURCES[written.text("status")])
    return Posting((bottles_moved(written, came_from, stock_account(written)),))


def to_be_right(written: Completed) -> list[Problem]:
    """A claim has its number, and no more is spoilt than came back."""
    problems = []
    if written.text("status") == PAID and not written.has("drawback_reference"):
        said = (
            "Reference of the claim is blank; goods whose duty was paid come back into suspension only beside a claim "
            "to drawback. Write its reference, or that they come under bond."
        )
        problems.append(Problem("drawback_reference", None, said))
    if written.has("spoilt_bottles") and written.whole("spoilt_bottles") > written.whole("bottles"):
        said = (
            f"Of these spoilt is {figures.count(written.whole('spoilt_bottles'))}, but "
            f"{figures.count(written.whole('bottles'))} bottles came back."
        )
        problems.append(Problem("spoilt_bottles", None, said))
    return problems


def spoilt(written: Completed) -> list[Note]:
    """What has to be done with spoilt bottles."""
    count = written.whole("spoilt_bottles") if written.has("spoilt_bottles") else 0
    if not count:
        return []
    said = (
        f"{figures.count(count)} spoilt bottles are in stock until they are destroyed under witness (a removal) or "
        "reprocessed; keep them apart."
    )
    return [Note("spoilt_bottles", None, said)]


def what_came_back(written: Completed, now: datetime) -> Result:
    """All of it, and what of it is spoilt."""
    bottle = one_bottle(written)
    heads = (
        Head("What"),
        Head("Bottles", figure=True),
        Head("Volume", "L at 20 °C", figure=True),
        Head("Strength", "% vol at 20 °C", figure=True),
        Head("Alcohol", "LPA", figure=True),
    )
    spoilt_ones = written.whole("spoilt_bottles") if written.has("spoilt_bottles") else 0
    counts = {"Came back": written.whole("bottles"), "Of these spoilt": spoilt_ones}
    strength = figures.percent(written.decimal("label_percent"))
    lines = tuple(
        Line(
            (
                what,
                figures.count(count),
                figures.litres(count * written.decimal("bottle_centilitres") / 100, 2),
                strength,
                figures.lpa(count * bottle.pure_ul, 3),
            )
        )
        for what, count in counts.items()
        if count or what == "Came back"
    )
    return Result(COMES_TO, heads, lines)


SHEET = Sheet(
    kind="return_inward",
    title="Return inward",
    plural="Returns inward",
    operation="return inward",
    table="returns_inward",
    prefix="RI",
    number_column="return",
    moments=(Moment(name="returned", label="Return", when="at", phase=Phase.DELIVERY, post=returned),),
    sections=(
        Section(
            heading="What came back",
            items=(
                fields.when("at", "Came back at"),
                *(one for one in STOCK_FIELDS if one.name != "bottles"),
                fields.count("bottles", "Bottles"),
                LOT_OF_BOTTLES,
                Field(name="status", label="Came back", kind=Kind.CHOICE, choices=(BOND, PAID)),
            ),
        ),
        Section(
            heading="From whom, and why",
            items=(
                fields.text("came_from", "Name and address of who sends it back"),
                fields.name("document", "Document number", found_as="document"),
                fields.text("reason", "Reason", longest=200),
                fields.record(
                    "left_by",
                    "Removal they left by",
                    "removal",
                    required=False,
                    help="Where it is known: it says at which rate their duty was paid.",
                ),
                fields.name(
                    "drawback_reference", "Reference of the claim to drawback", found_as="document", required=False
                ),
            ),
        ),
        Section(
            heading="Condition",
            items=(
                fields.text("condition", "Condition", choices=("sound", "spoilt", "damaged", "mixed"), longest=60),
                fields.count("spoilt_bottles", "Of these spoilt", required=False),
            ),
        ),
    ),
    cautions=(GLASS,),
    list_columns=("at", "product", "bottle_centilitres", "label_percent", "bottles", "status", "document"),
    takes_bottles=True,
    comes_back=ComesBack(
        bottles="bottles",
        centilitres="bottle_centilitres",
        percent="label_percent",
        spoilt="spoilt_bottles",
        status="status",
        paid=PAID,
        claim="drawback_reference",
        removal="left_by",
    ),
    after="bulk_removal",
    printed_title="Return inward",
    check=to_be_right,
    note=spoilt,
    results=(what_came_back,),
)
