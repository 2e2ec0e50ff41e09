"""Bottles in bond on the day the books are opened."""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.sheet import Moment, Phase, Posting, Section, Sheet, ToldBy
from batches.sheets.typed.completed import Completed
from batches.steps.shared.stock import STOCK_FIELDS, bottles_moved, stock_account
from ledger.posting.accounts import source


def opened(written: Completed) -> Posting:
    """The bottles at their label's strength, from opening stock."""
    return Posting((bottles_moved(written, source("opening stock"), stock_account(written)),))


SHEET = Sheet(
    kind="opening_bottled_stock",
    title="Opening bottled stock",
    plural="Opening bottled stock",
    operation="opening stock",
    table="opening_bottled_stock",
    prefix="OB",
    identity=("product", "bottle_centilitres", "label_percent"),
    moments=(Moment(name="opened", label="Opening", when="at", phase=Phase.OPENING, post=opened),),
    sections=(
        Section(
            heading="Bottles counted",
            items=(fields.when("at", "Counted at", told_by=ToldBy(at_opening=True)), *STOCK_FIELDS),
        ),
    ),
    list_columns=("at", "product", "bottle_centilitres", "label_percent", "bottles"),
    after="opening_cask",
    printed_title="Bottled stock at opening",
)
