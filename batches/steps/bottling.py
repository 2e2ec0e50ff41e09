"""Bottling: a vat into bottles, counted; the bottles hold what their label says.

Label strength has at most one decimal and is declared at 20 °C; contents are meant to average at least the nominal
(packaged goods, average system).
"""

from __future__ import annotations

from datetime import datetime

from batches.sheets import fields
from batches.sheets.cautions import GLASS, VAPOUR
from batches.sheets.results import Result
from batches.sheets.sheet import (
    Gauge,
    Material,
    MaterialKind,
    Moment,
    Note,
    Phase,
    Posting,
    Problem,
    Role,
    Section,
    Sheet,
)
from batches.sheets.typed.completed import Completed
from batches.steps.shared.figures import Compared, Figure, Held, against
from batches.steps.shared.judged import what_left
from batches.steps.shared.names import checked_name, name_failed, needs_of_name
from batches.steps.shared.stock import STOCK_FIELDS, bottles_moved, one_bottle, stock_account
from distillery.clock.reading import site_day
from distillery.process.product_names import Checked, Evidence
from distillery.rules.in_force import review_threshold
from distillery.rules.models import ONE
from ledger.posting.accounts import difference, gauging
from ledger.posting.drafts import FigureTaken

PERCENT = ("36", "65")


def bottled(written: Completed) -> Posting:
    """The vat before, the bottles, the vat after."""
    return Posting(
        (
            written.taken("vat_before", gauging(written.vessel("vat"))),
            bottles_moved(written, written.account("vat"), stock_account(written)),
            written.taken("vat_after", difference("bottling")),
        ),
        figures=compared(written),
        judged=what_left(written, "what left the vat", ("vat_before", "vat_after")),
    )


def compared(written: Completed) -> tuple[FigureTaken, ...]:
    """The bottles beside the vat's drop, and what was measured of them beside their label."""
    at = written.moment("at")
    day = site_day(at)
    bottled = written.whole("bottles") * one_bottle(written).lpa

    def bottles() -> tuple[Figure, float]:
        def of_the_drop(before: Held, after: Held) -> float:
            return 100.0 * bottled / (before.lpa - after.lpa)

        rule = review_threshold("bottling", written.vessel("vat").code, day)
        usual = 100.0 - 100.0 * rule.usual_millionths / ONE
        gauges = (written, "vat_before"), (written, "vat_after")
        # The operation's balance holds these readings already.
        figure, expected = against(of_the_drop, lambda before, after: usual, *gauges)
        return figure.loose, expected

    found = Compared(at)
    found.with_reading("bottles beside the drop of the vat", bottles, field="bottles", unit="%")
    if written.has("mean_fill_millilitres"):
        nominal = 10.0 * written.real("bottle_centilitres")
        found.with_reading(
            "mean fill",
            lambda: (Figure(written.real("mean_fill_millilitres")), nominal),
            field="mean_fill_millilitres",
            unit="mL",
        )
    if written.has("mean_strength_percent"):
        label = written.real("label_percent")
        found.with_reading(
            "mean strength beside the label",
            lambda: (Figure(written.real("mean_strength_percent")), label),
            field="mean_strength_percent",
            unit="% vol",
        )
    return found.figures


def lots_with_their_numbers(written: Completed) -> list[Problem]:
    """A lot of bottles or closures and how many were used say something only together."""
    problems = []
    for lot, used in (("bottle_lot", "bottles_used"), ("closure_lot", "closures_used")):
        for there, blank in ((lot, used), (used, lot)):
            if written.has(there) and not written.has(blank):
                label, other = written.sheet.field(blank).label, written.sheet.field(there).label
                problems.append(Problem(blank, None, f"{label} is blank, but {other.lower()} is written; write both."))
    return problems


def name_checked(written: Completed) -> list[Checked]:
    """What the name on the label asks for: the strength it is bottled at, and what it was made from."""
    percents = [written.real(name) for name in ("label_percent", "mean_strength_percent") if written.has(name)]
    this = written.number or "this bottling"
    own = {"bottled strength": [Evidence(one, this, 1.0 / len(percents)) for one in percents]}
    return checked_name(written, at=written.moment("at"), source="vat", own=own)


def name_needs(written: Completed, now: datetime) -> Result | None:
    """The checks of the name as they are shown."""
    return needs_of_name(written.text("legal_name"), name_checked(written))


def held(written: Completed) -> list[Note]:
    """What stands against the name on the label."""
    return name_failed(written.text("legal_name"), name_checked(written))


SHEET = Sheet(
    kind="bottling",
    title="Bottling",
    plural="Bottlings",
    operation="bottling",
    table="bottlings",
    prefix="BO",
    number_column="bottling",
    moments=(Moment(name="bottled", label="Bottling", when="at", phase=Phase.MOVE, post=bottled),),
    sections=(
        Section(
            heading="Lot",
            items=(
                fields.when("at", "Bottled at"),
                fields.vessel("vat", "Vat", *fields.DIPPED),
                fields.name("lot_code", "Lot code", lot=True),
                *STOCK_FIELDS,
                fields.text(
                    "legal_name",
                    "Legal name",
                    choices=("gin", "distilled gin", "London gin", "vodka"),
                    longest=60,
                    required=False,
                ),
            ),
        ),
        Section(
            heading="Vat",
            items=(
                Gauge(prefix="vat_before", label="Vat before", vessel="vat", role=Role.BEFORE, usual_percent=PERCENT),
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
        Section(
            heading="Bottles and closures",
            items=(
                fields.name("bottle_lot", "Lot of bottles", lot=True, required=False),
                fields.count("bottles_used", "Bottles used, broken ones too", short="Bottles used", required=False),
                fields.name("closure_lot", "Lot of closures", lot=True, required=False),
                fields.count("closures_used", "Closures used", required=False),
            ),
        ),
    ),
    cautions=(GLASS, VAPOUR),
    list_columns=("at", "vat", "product", "lot_code", "bottle_centilitres", "label_percent", "bottles"),
    after="regauge",
    fills_bottles=True,
    materials=(
        Material(field="bottle_lot", counted="bottles_used", kind=MaterialKind.BOTTLE),
        Material(field="closure_lot", counted="closures_used", kind=MaterialKind.CLOSURE),
    ),
    check=lots_with_their_numbers,
    printed_title="Bottling record",
    note=held,
    results=(name_needs,),
)
