"""Disgorging: maturing casks weighed and emptied into a vat, the vat gauged before and after.

What a cask holds less than its book is evaporation up to the most that its age makes expected. What the casks held by
their weights and the vat did not gain is the difference; what the wood is known to keep is a loss of its own where it
is written down.
"""

from __future__ import annotations

from datetime import datetime

from batches.sheets import fields
from batches.sheets.cautions import CASKS, STATIC, VAPOUR
from batches.sheets.results import Result
from batches.sheets.sheet import By, Gauge, Moment, Note, OfCasks, Phase, Posting, Problem, Role, Rows, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.ages import age_shown, youngest_of
from batches.steps.shared.emptied_casks import (
    each_cask,
    empty_already,
    emptyings,
    judged_by_age,
    to_look_at,
    wood_kept,
    wood_to_be_right,
)
from distillery.plant.models import Kind as VesselKind
from distillery.plant.models import Stage
from ledger.posting.accounts import difference, gauging

OPERATION = "disgorging"


def disgorged(written: Completed) -> Posting:
    """The vat before, each cask by weight or by litres and then empty, what the wood keeps, the vat after."""
    casks, left = emptyings(written), difference(OPERATION)
    out = tuple(line for one in casks for line in one.lines(left))
    return Posting(
        (
            written.taken("vat_before", gauging(written.vessel("vat"))),
            *out,
            *wood_kept(written, left),
            written.taken("vat_after", left, stage=Stage.MATURING),
        ),
        judged=judged_by_age(casks),
    )


def to_be_right(written: Completed) -> list[Problem]:
    """Casks that hold something, and what the wood keeps with its strength."""
    return [*empty_already(enumerate(emptyings(written))), *wood_to_be_right(written)]


def asked(written: Completed) -> list[Note]:
    """What is asked before the casks are emptied."""
    return to_look_at(enumerate(emptyings(written)))


def by_cask(written: Completed, now: datetime) -> Result | None:
    """Each cask beside what it should hold by now."""
    return each_cask(emptyings(written), "What the casks held")


def age(written: Completed, now: datetime) -> Result | None:
    """The age of the youngest that the casks held and that stood in the vat already."""
    at = written.moment("at")
    casks = [one.line.vessel("cask") for one in emptyings(written)]
    return age_shown(youngest_of(written, at=at, vessels=casks, beside=[written.vessel("vat")]), at)


SHEET = Sheet(
    kind="disgorging",
    title="Disgorging",
    plural="Disgorgings",
    operation=OPERATION,
    table="disgorgings",
    prefix="DG",
    number_column="disgorging",
    moments=(Moment(name="disgorged", label="Disgorging", when="at", phase=Phase.MOVE, post=disgorged),),
    sections=(
        Section(
            heading="Vat",
            items=(
                fields.when("at", "Disgorged at"),
                fields.vessel("vat", "Vat", *fields.DIPPED),
                Gauge(prefix="vat_before", label="Vat before", vessel="vat", role=Role.BEFORE),
                Gauge(prefix="vat_after", label="Vat after", vessel="vat", role=Role.AFTER),
            ),
        ),
        Section(
            heading="Kept by the wood, where it is known",
            items=(
                fields.litres("wood_litres", "Kept by the wood", required=False),
                fields.percent("wood_percent", "Strength of what it keeps", usual=("40", "70"), required=False),
            ),
        ),
    ),
    rows=Rows(
        heading="Casks",
        one="cask",
        each="cask",
        items=(
            fields.vessel("cask", "Cask", VesselKind.CASK),
            Gauge(
                prefix="",
                label="Cask",
                vessel="cask",
                role=Role.BEFORE,
                by=By.WEIGHT,
                or_litres=True,
                usual_percent=("40", "70"),
                taken="before it is emptied",
            ),
        ),
    ),
    cautions=(CASKS, VAPOUR, STATIC),
    list_columns=("at", "vat", "vat_before_dip_mm", "vat_after_dip_mm"),
    after="regauge",
    printed_title="Disgorging sheet",
    book_of="cask",
    of_casks=OfCasks(cask="cask", words="emptied"),
    check=to_be_right,
    asks=asked,
    results=(by_cask, age),
)
