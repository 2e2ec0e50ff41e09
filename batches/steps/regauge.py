"""Regauge: a maturing cask weighed, or its litres measured by dip or meter, and proved again.

What it holds less than its book is evaporation up to the most that its age, warehouse and kind make expected (the
site's dated band); the rest is a difference, and so is any gain. The measured alcohol becomes the book.
"""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.cautions import CASKS, VAPOUR
from batches.sheets.results import comes_to
from batches.sheets.sheet import (
    By,
    Counted,
    CountedBy,
    Gauge,
    Moment,
    Phase,
    Posting,
    Problem,
    Role,
    Section,
    Sheet,
)
from batches.sheets.typed.completed import Completed
from batches.steps.shared.books import book_without, filling_of
from batches.steps.shared.cask_gauges import brought_to_weight
from batches.steps.shared.figures import Compared, Held, from_gauges, reading
from batches.steps.shared.regauge_results import asked, facts, years_of_the_cask
from distillery.alcoholometry.strength import ETHANOL_KG_PER_M3_20, percent_vol_of_mass_fraction
from distillery.clock.reading import site_day
from distillery.plant.models import Kind as VesselKind
from distillery.rules.cask_loss import yearly_loss_percent, years_between
from distillery.rules.in_force import cask_band
from distillery.rules.models import ONE
from ledger.models import Leg
from ledger.posting.drafts import FigureTaken, JudgedAgainst

# Wood takes up spirit while a cask is young, so a rate says little before this age.
YEARS_TO_TELL = 1.0
SHOULD_HOLD = "what the cask should hold by now"


def regauged(written: Completed) -> Posting:
    """Evaporation as far as expected, then the gauge with the rest as difference."""
    found = brought_to_weight(
        written, at=written.moment("at"), number=written.number, operation="regauge", name="regauge"
    )
    judged = JudgedAgainst(SHOULD_HOLD, found.should_hold_ul)
    return Posting(found.lines, figures=compared(written), judged=judged)


def compared(written: Completed) -> tuple[FigureTaken, ...]:
    """Tare, loss and fall in strength, beside the cask's own filling and the casks of its warehouse and kind."""
    vessel, at = written.vessel("cask"), written.moment("at")
    cask, found = vessel.cask, Compared(at)
    if cask.tare_g is not None and written.has("tare_kg"):
        on_record = cask.tare_g / 1000
        found.with_reading(
            "tare beside the one on record",
            lambda: (reading(written, "tare_kg"), on_record),
            field="tare_kg",
            unit="kg",
        )
    filling = filling_of(vessel, at)
    years = years_between(filling.movement.took_place_at, at) if filling else 0.0
    if filling is None or years < YEARS_TO_TELL:
        return found.figures
    like = f"{cask.warehouse or 'any warehouse'}, {cask.kind}"
    found.with_kind(
        "loss a year",
        lambda: from_gauges(lambda held: _loss_a_year(filling, held, years), (written, "")).loose,
        like=like,
        field=written.amount_of(""),
        unit="%",
        expected=lambda: _middle_of_band(written),
    )
    found.with_kind(
        "fall in strength a year",
        lambda: from_gauges(lambda held: (_strength(filling) - held.percent) / years, (written, "")),
        like=like,
        field="hydrometer_percent",
        unit="% vol",
    )
    return found.figures


def _loss_a_year(filling: Leg, now: Held, years: float) -> float:
    return yearly_loss_percent(filling.pure_ul, max(now.lpa * ONE, 0.0), years)


def _strength(filling: Leg) -> float:
    ethanol_kg = filling.pure_ul / ONE * ETHANOL_KG_PER_M3_20 / 1000.0
    return percent_vol_of_mass_fraction(ethanol_kg * 1000.0 / filling.mass_g)


def _middle_of_band(written: Completed) -> float:
    cask = written.vessel("cask").cask
    day = site_day(written.moment("at"))
    band = cask_band(cask.warehouse, cask.kind, day)
    return 100.0 * band.yearly.middle


def cask_is_full(written: Completed) -> list[Problem]:
    """Only a cask that the books know to be full can be gauged again."""
    cask = written.vessel("cask")
    if book_without(written.account("cask"), written.moment("at"), written.number).pure_ul > 0:
        return []
    sentence = f"Cask {cask.code} is empty in the books at that time, so there is nothing to regauge."
    return [Problem("cask", None, sentence)]


SHEET = Sheet(
    kind="regauge",
    title="Regauge",
    plural="Regauges",
    operation="regauge",
    table="regauges",
    prefix="RG",
    number_column="regauge",
    moments=(Moment(name="regauged", label="Regauge", when="at", phase=Phase.MOVE, post=regauged),),
    sections=(
        Section(
            heading="Cask",
            items=(
                fields.when("at", "Regauged at"),
                fields.vessel("cask", "Cask", VesselKind.CASK),
                Gauge(
                    prefix="",
                    label="Cask",
                    vessel="cask",
                    role=Role.AFTER,
                    by=By.WEIGHT,
                    or_litres=True,
                    usual_percent=("40", "70"),
                ),
            ),
        ),
    ),
    cautions=(CASKS, VAPOUR),
    list_columns=("at", "cask", "gross_kg", "tare_kg", "litres", "celsius", "hydrometer_percent"),
    after="cask_fill",
    printed_title="Cask regauge",
    book_of="cask",
    counted_by=CountedBy(what=Counted.CASK, when="at", item="cask"),
    check=cask_is_full,
    asks=asked,
    results=(comes_to(facts),),
    pictures=years_of_the_cask,
)
