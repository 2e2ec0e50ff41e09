"""Cask removal: whole casks leaving bond, by their last gauge or as they are weighed when they go.

A cask that is weighed is brought to its weighing first, as by a regauge; then all that its book holds leaves with it.
A cask bears no label, so duty takes the measured strength, cut down to one decimal (SI 2023/806 reg 3(5)-(6)).
"""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.cautions import CASKS, VAPOUR
from batches.sheets.sheet import By, Gauge, Leaves, Moment, OfCasks, Phase, Posting, Problem, Role, Rows, Section, Sheet
from batches.sheets.typed.completed import Completed, Written
from batches.sheets.typed.values import Ungaugeable
from batches.steps.shared.books import book_without
from batches.steps.shared.cask_gauges import brought_to_weight
from batches.steps.shared.dispatch import (
    REPORT,
    left_for,
    measured_arrival,
    missing_papers,
    odd_reference,
    other_end,
    papers,
    papers_in_part,
)
from batches.steps.shared.dispatch_results import (
    EndToEnd,
    Leaving,
    by_strength,
    duties_due,
    measured,
    reason_for_difference,
    results_of_leaving,
)
from distillery.alcoholometry.contents import litres_and_percent_of
from distillery.plant.models import Kind as VesselKind
from ledger.posting.accounts import removal
from ledger.posting.drafts import Emptied, JudgedAgainst, Line

OPERATION = "cask removal"
SHOULD_HOLD = "what the weighed casks should hold by now"


def removed(written: Completed) -> Posting:
    """Each cask brought to its weighing, where it was weighed, and emptied to where it went; with the duty due."""
    at, to = written.moment("at"), removal(written.text("kind"))
    lines: list[Line | None] = []
    should_hold = 0
    for line in written.rows:
        if _is_weighed(line):
            cask = line.vessel("cask").code
            weighed = brought_to_weight(line, at=at, number=written.number, operation=OPERATION, name=cask)
            lines += weighed.lines
            should_hold += weighed.should_hold_ul
        lines.append(Emptied(line.account("cask"), to))
    judged = JudgedAgainst(SHOULD_HOLD, should_hold) if should_hold else None
    return Posting(tuple(lines), duties_due(written, what_left(written)), judged=judged)


def what_left(written: Completed) -> list[Leaving]:
    """Each cask with what it held as it went. Raises Ungaugeable where a book is no mixture of spirit and water."""
    return [_held(written, line) for line in written.rows]


def _held(written: Completed, line: Written) -> Leaving:
    what = f"Cask {line.vessel('cask').code}, {'weighed' if _is_weighed(line) else 'by its last gauge'}"
    if _is_weighed(line):
        found = line.quantity("")
        return measured(what, found.litres20, found.percent20, found.pure_ul)
    book = book_without(line.account("cask"), written.moment("at"), written.number)
    state = litres_and_percent_of(pure_ul=max(0, book.pure_ul), mass_g=max(0, book.mass_g))
    if state is None:
        said = f"The book of cask {line.vessel('cask').code} is no mixture of spirit and water; weigh the cask."
        raise Ungaugeable("cask", said)
    return measured(what, *state, book.pure_ul)


def _is_weighed(line: Written) -> bool:
    return line.has("gross_kg")


def end_to_end(written: Completed) -> EndToEnd | None:
    """What the casks held as they went, and what was reported of them."""
    return by_strength(written, sum(one.pure_ul for one in what_left(written)))


def to_be_right(written: Completed) -> list[Problem]:
    """Papers that goods may leave with, casks that hold something, and a reason for what did not arrive."""
    found = [*papers_in_part(written), *full_casks_only(written)]
    return found or reason_for_difference(written, end_to_end(written))


def full_casks_only(written: Completed) -> list[Problem]:
    """A cask that the books know to be empty cannot leave bond."""
    found = []
    for row, line in enumerate(written.rows):
        book = book_without(line.account("cask"), written.moment("at"), written.number)
        if book.pure_ul <= 0:
            code = line.vessel("cask").code
            found.append(Problem("cask", row, f"Cask {code} is empty in the books at that time; nothing can leave it."))
    return found


SHEET = Sheet(
    kind="cask_removal",
    title="Cask removal",
    plural="Cask removals",
    operation=OPERATION,
    table="cask_removals",
    prefix="CR",
    number_column="removal",
    # Goods are sent out or destroyed.
    signs=True,
    second_where="authority",
    moments=(Moment(name="removed", label="Removal", when="at", phase=Phase.MOVE, post=removed), REPORT),
    sections=(
        Section(heading="Where to", items=(fields.when("at", "Left at"), left_for())),
        *papers(),
        other_end(*measured_arrival()),
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
                role=Role.AFTER,
                by=By.WEIGHT,
                usual_percent=("40", "72"),
                optional=True,
            ),
        ),
    ),
    cautions=(CASKS, VAPOUR),
    list_columns=("at", "kind", "consignee", "document"),
    after="removal",
    book_of="cask",
    of_casks=OfCasks(cask="cask", told=("kind", "consignee"), words="left bond", goes=True),
    leaves=Leaves(left_for="kind", consignee="consignee", document="document", named=("cask",)),
    printed_title="Removal of casks from bond",
    check=to_be_right,
    check_on_page=missing_papers,
    note=odd_reference,
    results=results_of_leaving(what_left, end_to_end),
)
