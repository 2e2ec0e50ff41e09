"""Opening stock: one gauge of a vessel on the day its account is opened."""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.cautions import VAPOUR
from batches.sheets.sheet import Gauge, Moment, Phase, Posting, Problem, Role, Section, Sheet, StockTaken
from batches.sheets.typed.completed import Completed
from batches.steps.shared.books import has_entries
from batches.steps.shared.wash import holds_wash
from distillery import figures
from ledger.posting.accounts import source


def opened(written: Completed) -> Posting:
    """The gauge, against opening stock."""
    return Posting((written.taken("gauge", source("opening stock")),))


def only_the_first(written: Completed) -> list[Problem]:
    """An opening is a vessel's first entry; later it would hide what a gauge should show."""
    vessel = written.vessel("vessel")
    wash = holds_wash(written, "gauge", None)
    if wash or not has_entries(written.account("vessel"), written.moment("at"), written.number):
        return wash
    return [
        Problem(
            "vessel",
            None,
            f"{vessel.code} already has entries in the books up to {figures.moment(written.moment('at'))}; "
            "an opening entry is only for a vessel's first. Take stock instead.",
        )
    ]


SHEET = Sheet(
    kind="opening_stock",
    title="Opening stock",
    plural="Opening stock",
    operation="opening stock",
    table="opening_stock",
    prefix="OV",
    identity=("vessel",),
    moments=(Moment(name="opened", label="Opening", when="at", phase=Phase.OPENING, post=opened),),
    sections=(
        Section(
            heading="Vessel and gauge",
            items=(
                fields.vessel("vessel", "Vessel", *fields.DIPPED_OR_WASHBACK),
                fields.when("at", "Gauged at"),
                Gauge(prefix="gauge", label="Gauge", vessel="vessel", role=Role.AFTER),
            ),
        ),
    ),
    cautions=(VAPOUR,),
    list_columns=("at", "vessel", "gauge_dip_mm", "gauge_celsius", "gauge_hydrometer_percent"),
    takes_stock=StockTaken.OPENING,
    printed_title="Opening gauge",
    check=only_the_first,
)
