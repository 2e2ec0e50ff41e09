"""Spirit run: low wines and feints charged, the middle cut to the spirit receiver, the rest back to feints.

Both receivers are gauged before the run begins, as the remnant account asks (HMRC Spirits Production Manual SPIR4130),
and again after it. A charge usually stands below 30 % vol; the cut from about 75 to about 60 % vol; spent lees below
0.1 % vol.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from batches.sheets import fields
from batches.sheets.cautions import CONFINED_SPACE, FORESHOTS, STILL, VAPOUR
from batches.sheets.results import comes_to
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
from batches.steps.shared.distillate import TEMPERATURE
from batches.steps.shared.interruptions import INTERRUPTION, STOP_AND_START
from batches.steps.shared.judged import what_left
from batches.steps.shared.residues import destination
from batches.steps.shared.spirit_figures import (
    FEINTS,
    FEINTS_PERCENT,
    LOW_WINES_PERCENT,
    SPIRIT,
    SPIRIT_PERCENT,
    compared,
)
from batches.steps.shared.spirit_results import results
from batches.steps.shared.strength_pictures import RUN_OFF, strength_against_litres
from distillery.charts.plots import Plot
from distillery.plant.models import Kind as VesselKind
from distillery.plant.models import Purpose, Stage
from ledger.posting.accounts import difference, gauging, loss
from ledger.posting.drafts import Emptied


def charge(written: Completed) -> Posting:
    """Low wines and feints before and after charging, and both receivers before the run."""
    still = written.account("still")
    feints = gauging(written.vessel("feints_receiver"))
    return Posting(
        (
            written.taken("low_wines_before", gauging(written.vessel("low_wines_receiver"))),
            written.taken("low_wines_after", still),
            written.taken("feints_before", feints),
            written.taken("feints_after", still),
            written.taken("spirit_before", gauging(written.vessel("spirit_receiver"))),
            *written.taken_unless_shared("feints_receiver_before", feints),
        )
    )


def finish(written: Completed) -> Posting:
    """Both receivers after the run, or those that took their places, the spent lees, and what is left in the still."""
    still = written.account("still")
    return Posting(
        (
            written.taken("spirit_after", still),
            written.taken("feints_receiver_after", still),
            written.residue("spent_lees_litres", "spent_lees_percent", giver=still, taker=loss("spent lees")),
            Emptied(still, difference("spirit run")),
        ),
        figures=compared(written),
        judged=what_left(
            written, "the charge", ("low_wines_before", "low_wines_after"), ("feints_before", "feints_after")
        ),
    )


def pictures(written: Completed, now: datetime) -> list[Plot]:
    """Strength of the distillate against litres with its cuts, over the last runs of the still."""
    return strength_against_litres(written)


SHEET = Sheet(
    kind="spirit_run",
    title="Spirit run",
    plural="Spirit runs",
    operation="spirit run",
    table="spirit_runs",
    prefix="SR",
    number_column="run",
    moments=(
        Moment(name="charge", label="Charge", when="charged_at", phase=Phase.CHARGE, post=charge),
        SPIRIT.moment(),
        FEINTS.moment(),
        Moment(name="finish", label="Finish", when="ended_at", phase=Phase.RUN_OFF, post=finish),
    ),
    sections=(
        Section(
            heading="Charge",
            items=(
                fields.vessel(
                    "still",
                    "Still",
                    VesselKind.STILL,
                    stages=(Stage.LOW_WINES.value,),
                    assumed=True,
                    made_as="Spirit still",
                ),
                fields.when("charged_at", "Charged at"),
                fields.vessel(
                    "low_wines_receiver",
                    "Low wines from",
                    *fields.DIPPED,
                    stages=(Stage.LOW_WINES.value,),
                    purposes=(Purpose.LOW_WINES.value,),
                    assumed=True,
                    told_by=ToldBy(says="wash runs send low wines to"),
                ),
                FEINTS.vessel,
                Gauge(
                    prefix="low_wines_before",
                    label="Low wines before",
                    vessel="low_wines_receiver",
                    role=Role.BEFORE,
                    taken="before charging",
                    usual_percent=LOW_WINES_PERCENT,
                ),
                Gauge(
                    prefix="low_wines_after",
                    label="Low wines after",
                    vessel="low_wines_receiver",
                    role=Role.AFTER,
                    taken="after charging",
                    usual_percent=LOW_WINES_PERCENT,
                ),
                Gauge(
                    prefix="feints_before",
                    label="Feints before",
                    vessel="feints_receiver",
                    role=Role.BEFORE,
                    taken="before charging",
                    usual_percent=FEINTS_PERCENT,
                ),
                Gauge(
                    prefix="feints_after",
                    label="Feints after",
                    vessel="feints_receiver",
                    role=Role.AFTER,
                    taken="after charging",
                    usual_percent=FEINTS_PERCENT,
                ),
            ),
        ),
        Section(
            heading="Receivers before the run",
            items=(
                SPIRIT.vessel,
                Gauge(
                    prefix="spirit_before",
                    label="Spirit receiver before",
                    vessel="spirit_receiver",
                    role=Role.BEFORE,
                    taken="remnant before the run",
                    usual_percent=SPIRIT_PERCENT,
                ),
                Gauge(
                    prefix="feints_receiver_before",
                    label="Feints receiver before the run",
                    vessel="feints_receiver",
                    role=Role.BEFORE,
                    taken="before the run",
                    same_as="feints_after",
                    usual_percent=FEINTS_PERCENT,
                ),
            ),
        ),
        Section(
            heading="Cuts planned",
            items=(
                fields.percent("plan_on_percent", "Spirit on planned at", usual=("68", "80"), required=False),
                fields.percent("plan_off_percent", "Spirit off planned at", usual=("54", "70"), required=False),
            ),
        ),
        Section(
            heading="Cuts",
            moment="finish",
            items=(
                fields.litres("foreshots_litres", "Foreshots", decimals=0, required=False),
                fields.percent("foreshots_percent", "Foreshots, strength", usual=("65", "80"), required=False),
                fields.when("spirit_on_at", "Spirit on at", not_before="charged_at", required=False),
                fields.percent(
                    "cut_on_percent", "Strength at spirit on", short="Strength", usual=("68", "80"), required=False
                ),
                fields.when("spirit_off_at", "Spirit off at", not_before="spirit_on_at", required=False),
                fields.percent(
                    "cut_off_percent", "Strength at spirit off", short="Strength", usual=("54", "70"), required=False
                ),
            ),
        ),
        SPIRIT.section(),
        FEINTS.section(),
        Section(
            heading="Finish",
            moment="finish",
            items=(
                fields.when("ended_at", "Ended at", not_before="charged_at"),
                Gauge(
                    prefix="spirit_after",
                    label="Spirit receiver after",
                    vessel="spirit_receiver",
                    then=SPIRIT.next,
                    role=Role.AFTER,
                    taken="after the run",
                    usual_percent=SPIRIT_PERCENT,
                ),
                Gauge(
                    prefix="feints_receiver_after",
                    label="Feints receiver after the run",
                    vessel="feints_receiver",
                    then=FEINTS.next,
                    role=Role.AFTER,
                    taken="after the run",
                    usual_percent=FEINTS_PERCENT,
                ),
                fields.litres("spent_lees_litres", "Spent lees", decimals=0),
                fields.percent("spent_lees_percent", "Spent lees, strength", decimals=2, usual=("0", "0.2")),
                destination("spent_lees_to", "Spent lees went to"),
                fields.percent("end_percent", "Strength at the end", usual=("0.5", "1.5"), required=False),
            ),
        ),
    ),
    readings=(
        fields.percent("distillate_percent", "Distillate, strength", short="Strength", usual=("0", "82")),
        TEMPERATURE,
        RUN_OFF,
        INTERRUPTION,
    ),
    running=Running(
        state="Foreshots",
        into="feints_receiver",
        every=timedelta(minutes=15),
        events=(
            Event(
                name="spirit_on",
                label="Spirit on",
                said="Cut made",
                when="spirit_on_at",
                figures=("cut_on_percent",),
                state="Spirit on",
                into="spirit_receiver",
                plan="cut_on_percent",
                planned="plan_on_percent",
            ),
            Event(
                name="spirit_off",
                label="Spirit off",
                said="Cut made",
                when="spirit_off_at",
                figures=("cut_off_percent",),
                state="Feints",
                into="feints_receiver",
                plan="cut_off_percent",
                planned="plan_off_percent",
                after="spirit_on",
            ),
            *STOP_AND_START,
            SPIRIT.event(),
            FEINTS.event(),
        ),
    ),
    cautions=(STILL, VAPOUR, FORESHOTS, CONFINED_SPACE),
    list_columns=("charged_at", "still", "cut_on_percent", "cut_off_percent", "spirit_receiver", "ended_at"),
    after="wash_run",
    occupies="still",
    chart=Chart(quantity="distillate_percent"),
    longest=timedelta(days=2),
    needed_in_log=True,
    printed_title="Spirit still run",
    proves=(
        Proof(measure="base strength", figure="average strength of the cut"),
        # Own new make is of cereals, and agricultural.
        Proof(measure="base origin", words="agricultural"),
    ),
    results=(comes_to(results),),
    pictures=pictures,
    distils=Distils(spirits="malt spirit", spirit="spirit_receiver"),
)
