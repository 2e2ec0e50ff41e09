"""Distillation period: opened and ended with a gauge of the feints, for one class of spirits.

Each class has periods of its own, none longer than a month unless an officer allows it, and one ends when its wort is
distilled and its feints and spirits are in their receivers and accounted for (Spirits Regulations 1991, SI 1991/2564,
regulations 10 and 11, as made; superseded, same practice). Low wines and feints in other vessels count by their book.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from batches.distilling.facts import period_facts
from batches.distilling.in_the_way import in_the_way
from batches.distilling.periods import Period, all_periods, months_after, period_of
from batches.distilling.yields import Yield
from batches.sheets import fields
from batches.sheets.cautions import VAPOUR
from batches.sheets.results import comes_to
from batches.sheets.sheet import Field, Gauge, Kind, Moment, Phase, Posting, Problem, Role, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.site_figures import set_figure
from distillery import figures
from distillery.clock.reading import site_day
from distillery.pages import Fact
from distillery.plant.models import Purpose, Stage
from ledger.posting.accounts import gauging

MALT_SPIRIT, OTHER = "malt spirit", "other"
FEINTS_PERCENT = ("20", "50")


def opened(written: Completed) -> Posting:
    """The feints as the period begins."""
    return Posting((written.taken("feints_open", gauging(written.vessel("feints_receiver"))),))


def ended(written: Completed) -> Posting:
    """The feints as it ends: stock that the next begins with."""
    return Posting((written.taken("feints_close", gauging(written.vessel("feints_receiver"))),))


def one_after_another(written: Completed) -> list[Problem]:
    """No two periods of a class at once, none too long, and none ended before all in it is accounted for."""
    begins = written.moment("opened_at")
    ends = written.moment("ended_at") if written.has("ended_at") else None
    found = []
    for other in all_periods(written.text("spirit_class")):
        if other.number != written.number and _meet(other, begins, ends):
            there = figures.moment(other.opened_at)
            said = f"{other.number} of {other.spirits} lies in the same time, from {there}: end it first."
            found.append(Problem("opened_at", None, said))
    if ends is not None and not found:
        found += _too_long(written, begins, ends)
        left = in_the_way(written.text("spirit_class"), begins, ends)
        found += [Problem("ended_at", None, one.sentence) for one in left]
    return found


def _meet(other: Period, begins: datetime, ends: datetime | None) -> bool:
    starts_first = other.ended_at is None or begins < other.ended_at
    return starts_first and (ends is None or other.opened_at < ends)


def _too_long(written: Completed, begins: datetime, ends: datetime) -> list[Problem]:
    months = round(set_figure("longest distillation period", site_day(begins)))
    if written.text("longer_allowed") or site_day(ends) <= months_after(site_day(begins), months):
        return []
    longest = f"{months} month{'s' if months != 1 else ''}"
    said = (
        f"A period of {figures.span(ends - begins)} is longer than {longest}: write by whom and under which reference "
        "it was allowed, or end it earlier."
    )
    return [Problem("ended_at", None, said)]


def results(written: Completed, now: datetime) -> list[Fact]:
    """What the period made of its malt so far; nothing before it is saved."""
    record = written.site.record(SHEET.kind, written.number)
    return period_facts(Yield(period_of(record), written.site)) if record is not None else []


SHEET = Sheet(
    kind="distillation_period",
    title="Distillation period",
    plural="Distillation periods",
    operation="distillation period",
    table="distillation_periods",
    prefix="DP",
    number_column="period",
    moments=(
        Moment(name="open", label="Opening", when="opened_at", phase=Phase.BEGINNING, post=opened),
        Moment(name="end", label="End", when="ended_at", phase=Phase.COUNT, post=ended),
    ),
    sections=(
        Section(
            heading="Opening",
            items=(
                Field(
                    name="spirit_class",
                    label="Class of spirits",
                    kind=Kind.CHOICE,
                    choices=(MALT_SPIRIT, OTHER),
                    default=MALT_SPIRIT,
                ),
                fields.when("opened_at", "Opened at"),
                fields.vessel(
                    "feints_receiver",
                    "Feints receiver",
                    *fields.DIPPED,
                    stages=(Stage.LOW_WINES.value, Stage.RECTIFIED.value),
                    purposes=(Purpose.FEINTS.value, Purpose.HEADS_AND_TAILS.value),
                ),
                Gauge(
                    prefix="feints_open",
                    label="Opening feints",
                    vessel="feints_receiver",
                    role=Role.BEFORE,
                    taken="as the period begins",
                    usual_percent=FEINTS_PERCENT,
                ),
            ),
        ),
        Section(
            heading="End",
            moment="end",
            items=(
                fields.when("ended_at", "Ended at", not_before="opened_at"),
                Gauge(
                    prefix="feints_close",
                    label="Closing feints",
                    vessel="feints_receiver",
                    role=Role.BEFORE,
                    taken="as the period ends",
                    usual_percent=FEINTS_PERCENT,
                ),
                fields.text(
                    "longer_allowed",
                    "Longer than a month allowed by",
                    required=False,
                    help="The officer and the reference, where one allowed it.",
                ),
            ),
        ),
    ),
    cautions=(VAPOUR,),
    list_columns=("opened_at", "spirit_class", "feints_receiver", "ended_at"),
    after="spirit_run",
    longest=timedelta(days=62),
    printed_title="Distillation period",
    spans="spirit_class",
    check=one_after_another,
    results=(comes_to(results),),
)
