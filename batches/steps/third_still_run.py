"""Third still run: a charge for gin or vodka, the product, and the heads and tails kept back.

Vodka and neutral spirit usually come off near 94 to 96 % vol, gin near 75 to 85 (common practice, no source). Nothing
comes off above about 97.2 % vol.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from batches.sheets import fields
from batches.sheets.cautions import BASKETS, CHARCOAL, CONFINED_SPACE, FORESHOTS, STATIC, STILL, VAPOUR
from batches.sheets.sheet import (
    Chart,
    Distils,
    Event,
    Gauge,
    Moment,
    Phase,
    Posting,
    Proof,
    Role,
    Running,
    Section,
    Sheet,
    ToldBy,
)
from batches.sheets.typed.completed import Completed
from batches.steps.shared.charged import BOTANICALS, ISSUED, MEANT_FOR, PRODUCT_TESTED
from batches.steps.shared.distillate import TEMPERATURE
from batches.steps.shared.figures import Compared, Held, from_gauges, hours
from batches.steps.shared.hearts import AVERAGE, PRODUCT, PRODUCT_PERCENT, SAID, name_needs, unlikely
from batches.steps.shared.interruptions import INTERRUPTION, STOP_AND_START
from batches.steps.shared.judged import what_left
from batches.steps.shared.receivers import receiver
from batches.steps.shared.strength_pictures import RUN_OFF, strength_against_litres
from batches.steps.shared.third_still import (
    another_product,
    baskets_weighed,
    botanicals_wanted,
    charcoal_used,
    the_charge,
)
from distillery.charts.plots import Plot
from distillery.plant.models import Kind as VesselKind
from distillery.plant.models import Purpose, Stage
from ledger.posting.accounts import difference, gauging, loss
from ledger.posting.drafts import Emptied, FigureTaken, Line

HEADS_TAILS_PERCENT = ("60", "96")
HEADS_TAILS = receiver(
    "heads_tails_vessel",
    "Heads and tails to",
    named="heads and tails vessel",
    gauged="heads_tails",
    still="third_still",
    stage=Stage.RECTIFIED,
    purpose=Purpose.HEADS_AND_TAILS,
    usual_percent=HEADS_TAILS_PERCENT,
    told_by=ToldBy(says="heads and tails could go to", named_with=("heads", "tails"), unused=True),
)


def charge(written: Completed) -> Posting:
    """The source before and after charging; product and heads-and-tails vessels before the run."""
    return Posting(
        (
            written.taken("source_before", gauging(written.vessel("source"))),
            written.taken("source_after", written.account("third_still")),
            written.taken("product_before", gauging(written.vessel("product_vessel"))),
            written.taken("heads_tails_before", gauging(written.vessel("heads_tails_vessel"))),
        )
    )


def finish(written: Completed) -> Posting:
    """Both vessels after the run, the spent charge where it was measured, and what is left unaccounted for."""
    still = written.account("third_still")
    spent: tuple[Line | None, ...] = ()
    if written.has("spent_charge_litres") and written.has("spent_charge_percent"):
        taker = loss("spent third-still charge")
        spent = (written.residue("spent_charge_litres", "spent_charge_percent", giver=still, taker=taker),)
    return Posting(
        (
            written.taken("product_after", still),
            written.taken("heads_tails_after", still),
            *spent,
            Emptied(still, difference("third still run")),
        ),
        figures=compared(written),
        judged=what_left(written, "the charge", ("source_before", "source_after")),
    )


def compared(written: Completed) -> tuple[FigureTaken, ...]:
    """Product, heads and tails, what was used and the time, beside runs of the same kind of spirit."""
    started, ended = written.moment("charged_at"), written.moment("ended_at")
    like = f"{written.vessel('third_still').code} {written.text('kind').casefold()}"
    charged = [(written, "source_before"), (written, "source_after")]

    def charcoal(source_before: Held, source_after: Held) -> float:
        return 100.0 * written.real("charcoal_kg") / (source_before.lpa - source_after.lpa)

    found = Compared(ended)
    PRODUCT.average_among(found, written, AVERAGE, like=like)
    PRODUCT.share_among(found, written, "share of the charge in the product", charged, like=like)
    HEADS_TAILS.share_among(found, written, "share of the charge in heads and tails", charged, like=like)
    if written.has("charcoal_kg"):
        found.with_kind(
            "charcoal",
            lambda: from_gauges(charcoal, *charged).loose,
            like=like,
            field="charcoal_kg",
            unit="kg/100 LPA",
        )
    if written.has("baskets"):
        found.with_kind("baskets", lambda: float(written.whole("baskets")), like=like, field="baskets", unit="")
    found.with_kind("run time", lambda: hours(started, ended), like=like, field="ended_at", unit="h")
    return found.figures


def pictures(written: Completed, now: datetime) -> list[Plot]:
    """Strength of the distillate against litres with its cuts, over the last runs of the still for the same product."""
    return strength_against_litres(written)


SHEET = Sheet(
    kind="third_still_run",
    title="Third still run",
    plural="Third still runs",
    operation="third still run",
    table="third_still_runs",
    prefix="TS",
    number_column="run",
    moments=(
        Moment(name="charge", label="Charge", when="charged_at", phase=Phase.CHARGE, post=charge),
        PRODUCT.moment(),
        HEADS_TAILS.moment(),
        Moment(name="finish", label="Finish", when="ended_at", phase=Phase.RUN_OFF, post=finish),
    ),
    sections=(
        Section(
            heading="Charge",
            items=(
                fields.vessel(
                    "third_still",
                    "Still",
                    VesselKind.STILL,
                    stages=(Stage.RECTIFIED.value,),
                    assumed=True,
                    made_as="Third still",
                    told_by=ToldBy(says="the third stills are", made_as="TS"),
                ),
                fields.text("kind", "Kind of spirit", choices=("gin", "vodka")),
                fields.when("charged_at", "Charged at"),
                fields.vessel("source", "Charged from", *fields.DIPPED),
                Gauge(
                    prefix="source_before",
                    label="Source before",
                    vessel="source",
                    role=Role.BEFORE,
                    taken="before charging",
                ),
                Gauge(
                    prefix="source_after",
                    label="Source after",
                    vessel="source",
                    role=Role.AFTER,
                    taken="after charging",
                ),
                *MEANT_FOR,
            ),
        ),
        Section(
            heading="Vessels before the run",
            items=(
                PRODUCT.vessel,
                Gauge(
                    prefix="product_before",
                    label="Product vessel before",
                    vessel="product_vessel",
                    role=Role.BEFORE,
                    taken="before the run",
                    usual_percent=PRODUCT_PERCENT,
                ),
                HEADS_TAILS.vessel,
                Gauge(
                    prefix="heads_tails_before",
                    label="Heads and tails before",
                    vessel="heads_tails_vessel",
                    role=Role.BEFORE,
                    taken="before the run",
                    usual_percent=HEADS_TAILS_PERCENT,
                ),
            ),
        ),
        Section(
            heading="Cuts",
            moment="finish",
            items=(
                fields.litres("heads_litres", "Heads", usual=("0", "200"), required=False),
                fields.when("product_on_at", "Product on at", not_before="charged_at", required=False),
                fields.percent(
                    "product_on_percent",
                    "Strength at product on",
                    short="Strength",
                    usual=PRODUCT_PERCENT,
                    required=False,
                ),
                fields.when("product_off_at", "Product off at", not_before="product_on_at", required=False),
                fields.percent(
                    "product_off_percent",
                    "Strength at product off",
                    short="Strength",
                    usual=("40", "96"),
                    required=False,
                ),
                fields.litres("tails_litres", "Tails", usual=("0", "2000"), required=False),
            ),
        ),
        PRODUCT.section(),
        HEADS_TAILS.section(),
        Section(
            heading="Finish",
            moment="finish",
            items=(
                fields.when("ended_at", "Ended at", not_before="charged_at"),
                Gauge(
                    prefix="product_after",
                    label="Product vessel after",
                    vessel="product_vessel",
                    then=PRODUCT.next,
                    role=Role.AFTER,
                    taken="after the run",
                    usual_percent=PRODUCT_PERCENT,
                ),
                Gauge(
                    prefix="heads_tails_after",
                    label="Heads and tails after",
                    vessel="heads_tails_vessel",
                    then=HEADS_TAILS.next,
                    role=Role.AFTER,
                    taken="after the run",
                    usual_percent=HEADS_TAILS_PERCENT,
                ),
                fields.litres("spent_charge_litres", "Spent charge", decimals=0, required=False),
                fields.percent(
                    "spent_charge_percent", "Spent charge, strength", decimals=2, usual=("0", "2"), required=False
                ),
            ),
        ),
        PRODUCT_TESTED,
    ),
    rows=BOTANICALS,
    readings=(
        fields.percent("distillate_percent", "Distillate, strength", short="Strength", usual=("0", "97")),
        TEMPERATURE,
        RUN_OFF,
        INTERRUPTION,
    ),
    running=Running(
        state="Heads",
        into="heads_tails_vessel",
        product="kind",
        every=timedelta(minutes=15),
        events=(
            Event(
                name="product_on",
                label="Product on",
                said="Cut made",
                when="product_on_at",
                figures=("product_on_percent",),
                state="Product on",
                into="product_vessel",
                plan="product_on_percent",
            ),
            Event(
                name="product_off",
                label="Product off",
                said="Cut made",
                when="product_off_at",
                figures=("product_off_percent",),
                state="Tails",
                into="heads_tails_vessel",
                plan="product_off_percent",
                after="product_on",
            ),
            *STOP_AND_START,
            PRODUCT.event(),
            HEADS_TAILS.event(),
        ),
    ),
    cautions=(STILL, VAPOUR, STATIC, FORESHOTS, BASKETS, CHARCOAL, CONFINED_SPACE),
    list_columns=("charged_at", "kind", "source", "product_vessel", "recipe", "ended_at"),
    after="spirit_run",
    occupies="third_still",
    materials=ISSUED,
    chart=Chart(quantity="distillate_percent"),
    longest=timedelta(days=7),
    printed_title="Third still run",
    note=unlikely,
    asks=another_product,
    pictures=pictures,
    results=(the_charge, botanicals_wanted, baskets_weighed, charcoal_used, name_needs),
    proves=(
        Proof(measure="base strength", figure=AVERAGE, at_its_highest=True),
        Proof(measure="distillate strength", figure=AVERAGE),
        Proof(measure="botanical", field="botanical"),
        *(Proof(measure=measure, field=name) for measure, name in SAID.items()),
    ),
    distils=Distils(spirits="other", spirit="product_vessel"),
)
