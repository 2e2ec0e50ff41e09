"""Reprocessing: bottles of stock emptied back into a vat, because they are spoilt, wrongly filled or wrongly labelled.

The bottles leave their stock by what their label says they hold; the vat is gauged before and after, and what is
missing between the two is a difference as that of a bottling. Spoilt product and what becomes of it are recorded
(Alcoholic products technical guide, sections 9, 14 and 15).
"""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.cautions import GLASS, VAPOUR
from batches.sheets.sheet import Gauge, Moment, Phase, Posting, Role, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.stock import (
    LOT_OF_BOTTLES,
    STOCK_FIELDS,
    bottles_moved,
    enough_bottles,
    one_bottle,
    stock_account,
)
from ledger.posting.accounts import difference, gauging
from ledger.posting.drafts import JudgedAgainst

OPERATION = "reprocessing"


def reprocessed(written: Completed) -> Posting:
    """The vat before, the bottles into it, the vat after."""
    return Posting(
        (
            written.taken("vat_before", gauging(written.vessel("vat"))),
            bottles_moved(written, stock_account(written), written.account("vat")),
            written.taken("vat_after", difference(OPERATION)),
        ),
        judged=JudgedAgainst("what the bottles' label says", written.whole("bottles") * one_bottle(written).pure_ul),
    )


SHEET = Sheet(
    kind="reprocessing",
    title="Reprocessing",
    plural="Reprocessing",
    operation=OPERATION,
    table="reprocessing",
    prefix="RP",
    number_column="reprocessing",
    moments=(Moment(name="reprocessed", label="Reprocessing", when="at", phase=Phase.MOVE, post=reprocessed),),
    sections=(
        Section(
            heading="Bottles emptied",
            items=(
                fields.when("at", "Emptied at"),
                *STOCK_FIELDS,
                LOT_OF_BOTTLES,
                fields.text("reason", "Reason", longest=200),
                fields.name("document", "Document number", found_as="document", required=False),
            ),
        ),
        Section(
            heading="Into",
            items=(
                fields.vessel("vat", "Vat", *fields.DIPPED),
                Gauge(prefix="vat_before", label="Vat before", vessel="vat", role=Role.BEFORE),
                Gauge(prefix="vat_after", label="Vat after", vessel="vat", role=Role.AFTER),
            ),
        ),
    ),
    cautions=(GLASS, VAPOUR),
    list_columns=("at", "product", "bottle_centilitres", "label_percent", "bottles", "vat"),
    takes_bottles=True,
    after="return_inward",
    printed_title="Reprocessing of bottled stock",
    check=enough_bottles,
)
