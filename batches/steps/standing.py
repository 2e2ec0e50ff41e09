"""Standing: a vat gauged before and after a rest, so that what it gave off meanwhile is seen.

What is missing after it is the difference of the standing, judged against the contents before; what of it is known to
be evaporation is booked by an explanation. What is moved in or out meanwhile has gauges and records of its own.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from batches.sheets import fields
from batches.sheets.cautions import VAPOUR
from batches.sheets.results import comes_to
from batches.sheets.sheet import Gauge, Moment, Phase, Posting, Problem, Role, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.figures import Compared, Figure, against
from batches.steps.shared.judged import contents
from batches.steps.shared.still_charges import gauged, worked_out
from batches.steps.shared.vat_pictures import over_standing
from distillery import figures
from distillery.pages import Fact
from distillery.process.reducing import evaporated_percent_a_day
from ledger.posting.accounts import difference, gauging
from ledger.posting.drafts import FigureTaken

OPERATION: Final = "standing"
A_DAY: Final = timedelta(days=1)


def begun(written: Completed) -> Posting:
    """The vat as its rest begins."""
    return Posting((written.taken("before", gauging(written.vessel("vessel"))),))


def ended(written: Completed) -> Posting:
    """The vat as its rest ends; what is missing was given off, or is a reading."""
    return Posting(
        (written.taken("after", difference(OPERATION)),),
        figures=compared(written),
        judged=contents(written, "contents before", "before"),
    )


def compared(written: Completed) -> tuple[FigureTaken, ...]:
    """The strength after it beside the strength before."""

    def strength() -> tuple[Figure, float]:
        gauges = (written, "before"), (written, "after")
        return against(lambda before, after: after.percent, lambda before, after: before.percent, *gauges)

    found = Compared(written.moment("ended_at"))
    found.with_reading("strength after standing", strength, field="after_hydrometer_percent", unit="% vol")
    return found.figures


def some_time(written: Completed) -> list[Problem]:
    """Nothing stands for no time."""
    if not written.has("ended_at") or written.moment("ended_at") > written.moment("begun_at"):
        return []
    return [Problem("ended_at", None, "Ended at is the minute it began; say when the vat was gauged again.")]


def facts(written: Completed, now: datetime) -> list[Fact]:
    """How long it stood, and what it gave off a day."""
    return worked_out((lambda: _stood(written, now), lambda: _evaporated(written)))


def _days(written: Completed, until: datetime) -> float:
    return (until - written.moment("begun_at")) / A_DAY


def _stood(written: Completed, now: datetime) -> list[Fact]:
    done = written.has("ended_at")
    days = _days(written, written.moment("ended_at") if done else now)
    return [Fact("Stood", figures.number(days, 1), "days", note="" if done else "so far")] if days > 0 else []


def _evaporated(written: Completed) -> list[Fact]:
    if not written.has("ended_at"):
        return []
    before, after = gauged(written, "before"), gauged(written, "after")
    a_day = evaporated_percent_a_day(
        before_lpa=before.lpa, after_lpa=after.lpa, days=_days(written, written.moment("ended_at"))
    )
    way = "missing" if a_day >= 0 else "over"
    note = f"{figures.number(abs(before.lpa - after.lpa), 2)} LPA {way} of {figures.number(before.lpa, 2)} before"
    return [Fact("Given off", figures.number(abs(a_day), 3), f"% a day {way}", note=note)]


SHEET = Sheet(
    kind="standing",
    title="Standing",
    plural="Standings",
    operation=OPERATION,
    table="standings",
    prefix="SD",
    number_column="standing",
    moments=(
        Moment(name="begun", label="Beginning", when="begun_at", phase=Phase.CHARGE, post=begun),
        Moment(name="ended", label="End", when="ended_at", phase=Phase.MOVE, post=ended),
    ),
    sections=(
        Section(
            heading="Before",
            items=(
                fields.vessel("vessel", "Vessel", *fields.DIPPED),
                fields.when("begun_at", "Begun at"),
                fields.text("cover", "Cover", choices=("closed", "vented", "open"), longest=20, required=False),
                Gauge(prefix="before", label="Before", vessel="vessel", role=Role.BEFORE),
            ),
        ),
        Section(
            heading="After",
            moment="ended",
            items=(
                fields.when("ended_at", "Ended at", not_before="begun_at"),
                Gauge(prefix="after", label="After", vessel="vessel", role=Role.AFTER),
            ),
        ),
    ),
    cautions=(VAPOUR,),
    list_columns=("begun_at", "vessel", "ended_at"),
    after="filtration",
    works_contents=True,
    longest=timedelta(days=60),
    printed_title="Vat left standing",
    check=some_time,
    results=(comes_to(facts),),
    pictures=over_standing,
)
