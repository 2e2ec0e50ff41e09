"""Bottling: a vat into bottles, counted; the bottles hold what their label says.

Label strength has at most one decimal and is declared at 20 °C; contents are meant to average at least the nominal
(packaged goods, average system).
"""

from __future__ import annotations

from batches import fields
from batches.cautions import GLASS, VAPOUR
from batches.completed import Completed
from batches.sheet import Gauge, Moment, Posting, Role, Section, Sheet
from batches.stock import STOCK_FIELDS, bottles_moved, stock_account
from ledger.accounts import difference, gauging

PERCENT = ("36", "65")


def bottled(written: Completed) -> Posting:
    """The vat before, the bottles, the vat after."""
    return Posting(
        (
            written.taken("vat_before", gauging(written.vessel("vat"))),
            bottles_moved(written, written.account("vat"), stock_account(written)),
            written.taken("vat_after", difference("bottling")),
        )
    )


SHEET = Sheet(
    kind="bottling",
    title="Bottling",
    plural="Bottlings",
    operation="bottling",
    table="bottlings",
    prefix="BO",
    number_column="bottling",
    moments=(Moment(name="bottled", label="Bottling", when="at", order=24, post=bottled),),
    sections=(
        Section(
            heading="Lot",
            items=(
                fields.when("at", "Bottled at"),
                fields.vessel("vat", "Vat", *fields.DIPPED),
                fields.name("lot_code", "Lot code", lot=True),
                *STOCK_FIELDS,
            ),
        ),
        Section(
            heading="Vat",
            items=(
                Gauge(
                    prefix="vat_before", label="Vat before", vessel="vat", role=Role.BEFORE, usual_percent=PERCENT
                ),
                Gauge(prefix="vat_after", label="Vat after", vessel="vat", role=Role.AFTER, usual_percent=PERCENT),
            ),
        ),
        Section(
            heading="Checks",
            items=(
                fields.number("mean_fill_millilitres", "Mean fill at 20 °C", "mL", required=False),
                fields.percent("mean_strength_percent", "Mean strength", usual=PERCENT, required=False),
            ),
        ),
    ),
    cautions=(GLASS, VAPOUR),
    list_columns=("at", "vat", "product", "lot_code", "bottle_centilitres", "label_percent", "bottles"),
    printed_title="Bottling record",
)
