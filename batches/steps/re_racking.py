"""Re-racking: spirit moved on from casks into other casks, each weighed before it is emptied and after it is filled.

Age goes on: it counts from the first filling of the youngest that comes together. What the emptied casks held by their
weights and the filled ones did not take is the difference; what the wood is known to keep is a loss of its own where it
is written down.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from batches.sheets import fields
from batches.sheets.cautions import CASKS, STATIC, VAPOUR
from batches.sheets.results import Head, Line, Result
from batches.sheets.sheet import (
    By,
    Field,
    Gauge,
    Kind,
    Moment,
    Note,
    OfCasks,
    Phase,
    Posting,
    Problem,
    Role,
    Rows,
    Section,
    Sheet,
)
from batches.sheets.typed.completed import Completed, Written
from batches.steps.shared.ages import age_shown, youngest_of
from batches.steps.shared.books import full_already
from batches.steps.shared.emptied_casks import (
    Emptying,
    each_cask,
    empty_already,
    judged_by_age,
    to_look_at,
    wood_kept,
    wood_to_be_right,
)
from batches.steps.shared.places import LONGEST_PLACE, LONGEST_WAREHOUSE
from distillery import figures
from distillery.alcoholometry.quantity import whole_grams
from distillery.plant import keeping
from distillery.plant.models import MICRO
from distillery.plant.models import Kind as VesselKind
from ledger.posting.accounts import difference

OPERATION = "re-racking"
EMPTIED, FILLED = "emptied", "filled"
# A cask is filled to the bung less a little; more than this over its size is worth a second look.
MOST_OF_NOMINAL = 1.1


def _emptied(written: Completed) -> list[tuple[int, Emptying]]:
    return [(row, Emptying(written, line)) for row, line in _lines(written, EMPTIED)]


def _lines(written: Completed, what: str) -> Iterator[tuple[int, Written]]:
    for row, line in enumerate(written.rows):
        if line.has("what_happens") and line.text("what_happens") == what:
            yield row, line


def moved(written: Completed) -> Posting:
    """Each cask that is emptied as measured and then empty, what the wood keeps, each that is filled as measured."""
    casks, left = [one for _, one in _emptied(written)], difference(OPERATION)
    out = tuple(line for one in casks for line in one.lines(left))
    taken = tuple(line.taken("", left, name="after") for _, line in _lines(written, FILLED))
    return Posting((*out, *wood_kept(written, left), *taken), judged=judged_by_age(casks))


def to_be_right(written: Completed) -> list[Problem]:
    """Casks on both sides; those that are emptied hold something, those that are filled do not."""
    problems = empty_already(_emptied(written))
    for row, line in _lines(written, FILLED):
        sentence = full_already(line.vessel("cask"), written.moment("at"), written.number)
        if sentence:
            problems.append(Problem("cask", row, f"{sentence} Empty it first, or leave it out."))
    for what in (EMPTIED, FILLED):
        if not any(_lines(written, what)):
            problems.append(Problem("what_happens", 0, f"No cask is {what}; write each cask that is {what} too."))
    return [*problems, *wood_to_be_right(written)]


def asked(written: Completed) -> list[Note]:
    """What is asked before the casks are emptied."""
    return to_look_at(_emptied(written))


def sizes(written: Completed) -> list[Note]:
    """A cask that is filled with far more than its size."""
    notes = []
    for row, line in _lines(written, FILLED):
        vessel, litres = line.vessel("cask"), line.quantity("").litres20
        nominal = vessel.cask.nominal_ul / MICRO
        if litres > nominal * MOST_OF_NOMINAL:
            said = f"Cask {vessel.code} comes to {figures.litres(litres)} litres; its size is {nominal:g} litres."
            notes.append(Note(line.amount_of(""), row, said))
    return notes


def by_cask(written: Completed, now: datetime) -> Result | None:
    """Each cask that is emptied beside what it should hold by now."""
    return each_cask([one for _, one in _emptied(written)], "What the emptied casks held")


def in_against_out(written: Completed, now: datetime) -> Result | None:
    """What the emptied casks held against what the filled ones took."""
    given = [one.measured for _, one in _emptied(written)]
    taken = [line.quantity("") for _, line in _lines(written, FILLED)]
    if not given or not taken:
        return None
    heads = (Head("What"), Head("Litres", "L", figure=True), Head("Held", "LPA", figure=True))
    out, into = sum(one.pure_ul for one in given), sum(one.pure_ul for one in taken)
    return Result(
        "In against out",
        heads,
        (
            Line(("Emptied casks", figures.litres(sum(one.litres20 for one in given)), figures.lpa(out))),
            Line(("Filled casks", figures.litres(sum(one.litres20 for one in taken)), figures.lpa(into))),
            Line(("Kept by wood and hoses, or lost", "", figures.lpa(out - into))),
        ),
        "age goes on from the first filling of the youngest",
    )


def note_the_casks(written: Completed) -> None:
    """The entries of the casks that are filled: tare, fill, place, and since when they are full."""
    for _, line in _lines(written, FILLED):
        cask = line.vessel("cask").cask
        keeping.note_fill(
            cask,
            tare_g=whole_grams(line.real("tare_kg")) if line.has("tare_kg") else cask.tare_g,
            filled_at=written.moment("at"),
            fill_number=line.whole("fill_number") if line.has("fill_number") else None,
            warehouse=line.text("warehouse", cask.warehouse),
        )


def age(written: Completed, now: datetime) -> Result | None:
    """The age of the youngest that comes together, which goes on in the casks that are filled."""
    at = written.moment("at")
    casks = [one.line.vessel("cask") for _, one in _emptied(written)]
    return age_shown(youngest_of(written, at=at, vessels=casks), at)


SHEET = Sheet(
    kind="re_racking",
    title="Re-racking",
    plural="Re-rackings",
    operation=OPERATION,
    table="re_rackings",
    prefix="RK",
    number_column="re_racking",
    moments=(Moment(name="moved", label="Re-racking", when="at", phase=Phase.MOVE, post=moved),),
    sections=(
        Section(
            heading="When, and what the wood keeps",
            items=(
                fields.when("at", "Re-racked at"),
                fields.litres("wood_litres", "Kept by the wood, where known", required=False),
                fields.percent("wood_percent", "Strength of what it keeps", usual=("40", "70"), required=False),
            ),
        ),
    ),
    rows=Rows(
        heading="Casks",
        one="cask",
        each="cask",
        least=2,
        items=(
            fields.vessel("cask", "Cask", VesselKind.CASK),
            Field(name="what_happens", label="It is", kind=Kind.CHOICE, choices=(EMPTIED, FILLED)),
            Gauge(
                prefix="",
                label="Cask",
                vessel="cask",
                role=Role.AFTER,
                by=By.WEIGHT,
                or_litres=True,
                usual_percent=("40", "70"),
                taken="full",
            ),
            fields.count("fill_number", "Fill", usual=("1", "6"), required=False),
            fields.text("warehouse", "Warehouse", longest=LONGEST_WAREHOUSE, required=False),
            fields.text("row", "Row", longest=LONGEST_PLACE, required=False),
            fields.text("tier", "Tier", longest=LONGEST_PLACE, required=False),
        ),
    ),
    cautions=(CASKS, VAPOUR, STATIC),
    list_columns=("at",),
    after="regauge",
    printed_title="Re-racking sheet",
    book_of="cask",
    of_casks=OfCasks(cask="cask", warehouse="warehouse", row="row", tier="tier", told=("what_happens",)),
    check=to_be_right,
    asks=asked,
    note=sizes,
    keep=note_the_casks,
    results=(by_cask, in_against_out, age),
)
