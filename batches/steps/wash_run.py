"""Wash run: a charge of wash, the low wines it gave, and the pot ale left behind.

The charge is the fall of the washback between its two dips; the strength of the wash comes from the gravities of its
fermentation. Low wines usually stand at 20 to 30 % vol; about 0.1 % is left in the pot ale (HMRC Spirits Production
Manual SPIR4100).
"""

from __future__ import annotations

from datetime import datetime, timedelta

from batches.sheets import fields
from batches.sheets.cautions import CONFINED_SPACE, STILL, VAPOUR
from batches.sheets.results import comes_to
from batches.sheets.sheet import (
    By,
    Chart,
    Distils,
    Field,
    Gauge,
    Kind,
    Moment,
    Note,
    Phase,
    Posting,
    Problem,
    Role,
    Running,
    Section,
    Sheet,
)
from batches.sheets.typed.completed import Completed
from batches.steps.shared.distillate import TEMPERATURE
from batches.steps.shared.fermentation_course import charged_unsteady
from batches.steps.shared.figures import Compared, Held, from_gauges, hours, reading
from batches.steps.shared.interruptions import INTERRUPTION, STOP_AND_START
from batches.steps.shared.judged import what_left
from batches.steps.shared.receivers import receiver
from batches.steps.shared.residues import destination
from batches.steps.shared.strength_pictures import RUN_OFF, strength_against_litres
from batches.steps.shared.wash import other_washback, still_the_last
from batches.steps.shared.wash_results import results
from distillery.charts.plots import Plot
from distillery.plant.models import Kind as VesselKind
from distillery.plant.models import Purpose, Stage
from ledger.posting.accounts import difference, gauging, loss
from ledger.posting.drafts import Emptied, FigureTaken, JudgedAgainst

FROTHS = ("none", "low", "high")
FROTH = Field(name="froth", label="Froth at the sight glass", short="Froth", kind=Kind.CHOICE, choices=FROTHS)
LOW_WINES = receiver(
    "receiver",
    "Low wines receiver",
    gauged="receiver",
    stage=Stage.LOW_WINES,
    purpose=Purpose.LOW_WINES,
    usual_percent=("15", "35"),
)


def charge(written: Completed) -> Posting:
    """Washback before and after, the fall into the still; the receiver before the run."""
    at = written.moment("charged_at")
    return Posting(
        (
            *written.taken_unless_shared("washback_before", gauging(written.vessel("washback")), at=at),
            written.taken("washback_after", written.account("still"), at=at),
            written.taken("receiver_before", gauging(written.vessel("receiver"))),
        ),
        # What left the washback then rests on another record, and is posted anew when that is put right.
        judged=_judged(written) if written.shares("washback_before") else None,
    )


def finish(written: Completed) -> Posting:
    """The receiver after the run, or the one that took its place, the pot ale, and what is left in the still."""
    still = written.account("still")
    return Posting(
        (
            written.taken("receiver_after", still),
            written.residue("pot_ale_litres", "pot_ale_percent", giver=still, taker=loss("pot ale")),
            Emptied(still, difference("wash run")),
        ),
        figures=compared(written),
        judged=_judged(written),
    )


def _judged(written: Completed) -> JudgedAgainst:
    return what_left(written, "the charge", ("washback_before", "washback_after"), at=written.moment("charged_at"))


def compared(written: Completed) -> tuple[FigureTaken, ...]:
    """Low wines, pot ale and time, beside other runs of the same still."""
    ended, like = written.moment("ended_at"), written.vessel("still").code

    def pot_ale() -> float:
        return written.real("pot_ale_litres")

    def of_the_charge(before: Held, after: Held) -> float:
        return 100.0 * pot_ale() / (before.litres - after.litres)

    found = Compared(ended)
    LOW_WINES.average_among(found, written, "average strength of the low wines", like=like)
    found.with_kind(
        "pot ale of the charge",
        lambda: from_gauges(
            of_the_charge, (written, "washback_before"), (written, "washback_after")
        ).and_in_proportion_to("pot_ale_litres", pot_ale()),
        like=like,
        field="pot_ale_litres",
        unit="%",
    )
    found.with_kind(
        "pot ale strength",
        lambda: reading(written, "pot_ale_percent"),
        like=like,
        field="pot_ale_percent",
        unit="% vol",
    )
    found.with_kind(
        "run time", lambda: hours(written.moment("charged_at"), ended), like=like, field="ended_at", unit="h"
    )
    return found.figures


def pictures(written: Completed, now: datetime) -> list[Plot]:
    """Strength of the low wines against litres, over the last runs of the still."""
    return strength_against_litres(written)


def washback_as_it_was_declared(written: Completed) -> list[Problem]:
    """A washback that was gauged or drawn from since its wash was declared has to be gauged again."""
    return still_the_last(written, "washback_before")


def same_washback(written: Completed) -> list[Note]:
    """Wash from another washback than the fermentation's may be a slip of the pen."""
    return other_washback(written, "fermentation", "{record} stands in {there}, not in {here}.")


SHEET = Sheet(
    kind="wash_run",
    title="Wash run",
    plural="Wash runs",
    operation="wash run",
    table="wash_runs",
    prefix="WR",
    number_column="run",
    moments=(
        Moment(name="charge", label="Charge", when="charged_at", phase=Phase.CHARGE, post=charge),
        LOW_WINES.moment(),
        Moment(name="finish", label="Finish", when="ended_at", phase=Phase.RUN_OFF, post=finish),
    ),
    sections=(
        Section(
            heading="Charge",
            items=(
                fields.vessel(
                    "still", "Still", VesselKind.STILL, stages=(Stage.WASH.value,), assumed=True, made_as="Wash still"
                ),
                fields.record("fermentation", "Fermentation", "fermentation", figures_from=True),
                fields.vessel("washback", "Washback", VesselKind.WASHBACK),
                fields.when("charged_at", "Charged at"),
                Gauge(
                    prefix="washback_before",
                    label="Washback before",
                    vessel="washback",
                    role=Role.BEFORE,
                    taken="before charging",
                    same_as="final",
                    same_of="fermentation",
                    by=By.WASH_DIP,
                    gravities_of="fermentation",
                    usual_celsius=("15", "35"),
                ),
                Gauge(
                    prefix="washback_after",
                    label="Washback after",
                    vessel="washback",
                    role=Role.AFTER,
                    taken="after charging",
                    by=By.WASH_DIP,
                    gravities_of="fermentation",
                    celsius_from="washback_before_celsius",
                ),
            ),
        ),
        Section(
            heading="Receiver before the run",
            items=(
                LOW_WINES.vessel,
                Gauge(
                    prefix="receiver_before",
                    label="Receiver before",
                    vessel="receiver",
                    role=Role.BEFORE,
                    taken="before the run",
                    usual_percent=("15", "35"),
                ),
            ),
        ),
        LOW_WINES.section(),
        Section(
            heading="Finish",
            moment="finish",
            items=(
                fields.when("ended_at", "Ended at", not_before="charged_at"),
                Gauge(
                    prefix="receiver_after",
                    label="Receiver after",
                    vessel="receiver",
                    then=LOW_WINES.next,
                    role=Role.AFTER,
                    taken="after the run",
                    usual_percent=("15", "35"),
                ),
                fields.litres("pot_ale_litres", "Pot ale", decimals=0),
                fields.percent("pot_ale_percent", "Pot ale, strength", decimals=2, usual=("0", "0.3")),
                destination("pot_ale_to", "Pot ale went to"),
                fields.percent("end_percent", "Strength at the end", usual=("0.5", "1.5"), required=False),
            ),
        ),
    ),
    readings=(
        fields.percent("low_wines_percent", "Low wines, strength", short="Strength", usual=("0", "60")),
        TEMPERATURE,
        RUN_OFF,
        FROTH,
        INTERRUPTION,
    ),
    running=Running(
        state="Running",
        into="receiver",
        every=timedelta(minutes=30),
        events=(*STOP_AND_START, LOW_WINES.event()),
    ),
    cautions=(STILL, VAPOUR, CONFINED_SPACE),
    list_columns=("charged_at", "still", "fermentation", "washback", "receiver", "ended_at"),
    after="fermentation",
    occupies="still",
    chart=Chart(quantity="low_wines_percent"),
    longest=timedelta(days=2),
    needed_in_log=True,
    printed_title="Wash still run",
    check=washback_as_it_was_declared,
    results=(comes_to(results),),
    pictures=pictures,
    distils=Distils(spirits="malt spirit", wash_of="fermentation"),
    note=same_washback,
    asks=charged_unsteady,
)
