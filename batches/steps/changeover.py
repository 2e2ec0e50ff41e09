"""Changeover: the third still made ready for another product, and what was left of the last one taken to account.

Flavour carries over from one product into the next, and the class of spirits changes with it, so a changeover ends the
product's period (Spirits Regulations 1991 regs 10-11, as made, superseded; kept as the frame of comparing). A site
writes down its own control points, residues of cleaning among them (assimilated Regulation 852/2004 art. 5, from
memory).
"""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.cautions import BASKETS, CHARCOAL, CLEANING, CONFINED_SPACE, VAPOUR
from batches.sheets.sheet import Gauge, Moment, Note, Phase, Posting, Problem, Role, Section, Sheet, ToldBy
from batches.sheets.typed.completed import Completed
from distillery.plant.models import Kind as VesselKind
from distillery.plant.models import Stage
from ledger.posting.accounts import difference, gauging, loss
from ledger.posting.drafts import Emptied, JudgedAgainst, Line

CLEAN = "clear"
OPERATION = "changeover"


def changed_over(written: Completed) -> Posting:
    """What was left in the still: into the vessel it was pumped to, or lost with the rinse; found again either way."""
    still = written.account("still")
    if written.has("residue_to"):
        lines: tuple[Line | None, ...] = (
            written.taken("residue_to_before", gauging(written.vessel("residue_to"))),
            written.taken("residue_to_after", still),
        )
        left = written.quantity("residue_to_after").pure_ul - written.quantity("residue_to_before").pure_ul
    elif written.has("residue_litres"):
        drained = written.residue("residue_litres", "residue_percent", giver=still, taker=loss("cleaning"))
        lines = (drained,)
        left = drained.quantity.pure_ul if drained is not None else 0
    else:
        return Posting(())
    return Posting(
        (*lines, Emptied(still, difference(OPERATION))),
        judged=JudgedAgainst("what was left in the still", left),
    )


def checked(written: Completed) -> list[Problem]:
    """What was left has gone one way, and its figures are there."""
    problems = []
    gauge = ("residue_to_before_dip_mm", "residue_to_after_dip_mm")
    if written.has("residue_to"):
        problems = [
            Problem(name, None, f"{written.sheet.field(name).label} is blank; gauge the vessel the residue went to.")
            for name in gauge
            if not written.has(name)
        ]
        if written.has("residue_litres"):
            said = "The residue is written twice, by litres and by the gauges of a vessel: leave one of them blank."
            problems.append(Problem("residue_litres", None, said))
    elif written.has("residue_litres") != written.has("residue_percent"):
        said = "What was left is written by its litres and its strength: write both, or leave both blank."
        problems.append(Problem("residue_percent", None, said))
    if written.text("to_product").casefold() == written.text("from_product").casefold():
        said = f"The still is made ready for {written.text('to_product')}, which it was charged for already."
        problems.append(Problem("to_product", None, said))
    return problems


def unlikely(written: Completed) -> list[Note]:
    """Residue that nobody wrote down, a still that was not clear, and charcoal that goes into another product."""
    notes = []
    if not written.has("residue_to") and not written.has("residue_litres"):
        notes.append(Note("residue_litres", None, "Nothing is written of what was left in the still."))
    if written.text("checked_clear") != CLEAN:
        said = "The last rinse was not clear: clean again before another product is charged."
        notes.append(Note("checked_clear", None, said))
    return notes


SHEET = Sheet(
    kind="changeover",
    title="Changeover",
    plural="Changeovers",
    operation=OPERATION,
    table="changeovers",
    prefix="CO",
    number_column="changeover",
    moments=(Moment(name="changed_over", label="Changeover", when="at", phase=Phase.MOVE, post=changed_over),),
    sections=(
        Section(
            heading="Still",
            items=(
                fields.when("at", "Ready at"),
                fields.vessel(
                    "still",
                    "Still",
                    VesselKind.STILL,
                    stages=(Stage.RECTIFIED.value,),
                    assumed=True,
                    made_as="Third still",
                    told_by=ToldBy(says="changeovers are of", made_as="TS"),
                ),
                fields.text("from_product", "Charged for until now", choices=("gin", "vodka"), longest=60),
                fields.text("to_product", "Made ready for", choices=("gin", "vodka"), longest=60),
            ),
        ),
        Section(
            heading="What was left",
            items=(
                fields.litres("residue_litres", "Drained with the rinse", usual=("0", "500"), required=False),
                fields.percent("residue_percent", "Its strength", decimals=2, usual=("0", "60"), required=False),
                fields.vessel("residue_to", "Or pumped to", *fields.DIPPED, required=False),
                Gauge(
                    prefix="residue_to_before",
                    label="Before",
                    vessel="residue_to",
                    role=Role.BEFORE,
                    optional=True,
                ),
                Gauge(
                    prefix="residue_to_after",
                    label="After",
                    vessel="residue_to",
                    role=Role.AFTER,
                    optional=True,
                ),
            ),
        ),
        Section(
            heading="Rinsed and cleaned",
            items=(
                fields.text(
                    "cleaned_with",
                    "Cleaned with",
                    choices=("hot water", "steam", "neutral spirit", "caustic"),
                    longest=60,
                ),
                fields.text(
                    "cleaned",
                    "What was rinsed or cleaned",
                    choices=("pot, column, condenser and safe", "pot and column", "pot, baskets and condenser"),
                    longest=200,
                ),
                fields.text("charcoal", "Charcoal", choices=("taken out", "none in", "left in"), required=False),
                fields.text("baskets", "Baskets", choices=("emptied and cleaned", "none in"), required=False),
                fields.text("checked_clear", "Last rinse", choices=(CLEAN, "not clear"), longest=40),
                fields.name("checked_by", "Checked by"),
            ),
        ),
    ),
    cautions=(CLEANING, CONFINED_SPACE, VAPOUR, BASKETS, CHARCOAL),
    list_columns=("at", "still", "from_product", "to_product", "checked_clear", "checked_by"),
    after="third_still_run",
    ends_product="still",
    tells=("from_product", "to_product"),
    printed_title="Changeover of the third still",
    check=checked,
    note=unlikely,
)
