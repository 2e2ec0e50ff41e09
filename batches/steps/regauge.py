"""Regauge: a maturing cask weighed and proved again.

What it holds less than its book is evaporation up to the most that its age, warehouse and kind make expected (the
site's dated band); the rest is a difference, and so is any gain. The measured alcohol becomes the book.
"""

from __future__ import annotations

from batches import fields
from batches.books import book_without, expected_evaporation
from batches.cautions import CASKS, VAPOUR
from batches.completed import Completed
from batches.sheet import By, Gauge, Moment, Posting, Problem, Role, Section, Sheet
from distillery.alcoholometry.quantity import Quantity
from distillery.plant.models import Kind as VesselKind
from ledger.accounts import difference, loss
from ledger.drafts import Line, Moved


def regauged(written: Completed) -> Posting:
    """Evaporation as far as expected, then the gauge with the rest as difference."""
    cask, at = written.vessel("cask"), written.moment("at")
    account = written.account("cask")
    measured = written.quantity("")
    book = book_without(account, at, written.number)
    short = book.pure_ul - measured.pure_ul
    evaporated = min(short, expected_evaporation(cask, at, without=written.number))
    evaporation: tuple[Line, ...] = ()
    if evaporated > 0:
        # Alcohol and water leave together; the mass goes with the alcohol in the proportion that is missing.
        mass_g = max(0, book.mass_g - measured.mass_g) * evaporated // short
        gone = Quantity(pure_ul=evaporated, mass_g=mass_g, litres20=0.0, percent20=0.0, uncertainty_ul=0.0)
        evaporation = (Moved(account, loss("evaporation in cask"), gone),)
    return Posting((*evaporation, written.taken("", difference("regauge"), name="regauge")))


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
    moments=(Moment(name="regauged", label="Regauge", when="at", order=23, post=regauged),),
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
                    usual_percent=("40", "70"),
                ),
            ),
        ),
    ),
    cautions=(CASKS, VAPOUR),
    list_columns=("at", "cask", "gross_kg", "tare_kg", "celsius", "hydrometer_percent"),
    printed_title="Cask regauge",
    book_of="cask",
    check=cask_is_full,
)
