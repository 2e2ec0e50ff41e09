"""Receipt of full casks under bond: each becomes a vessel, gauged by weight beside the consignor's figures.

Goods are taken to account as they arrive (Excise Warehousing (Etc.) Regulations 1988, reg 11(2)); shortage and excess
are recorded at receipt (Excise Notice 197; SI 2010/593). What the document says was in a cask is taken in, and what the
gauge on arrival finds less or more is the difference; from then on the site's own band says what it should lose.
"""

from __future__ import annotations

from datetime import datetime

from batches.sheets import fields
from batches.sheets.cautions import CASKS, VAPOUR
from batches.sheets.declared import NewCask
from batches.sheets.results import Head, Line, Result
from batches.sheets.sheet import By, Gauge, Moment, Note, OfCasks, Phase, Posting, Problem, Role, Rows, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.books import full_already
from batches.steps.shared.places import LONGEST_PLACE, LONGEST_WAREHOUSE
from batches.steps.shared.receipts import (
    OPERATION,
    REPORTED,
    SENT,
    UNDER_BOND,
    arrived,
    arrived_in,
    beyond_threshold,
    delivered,
    reason_given,
    seals_broken,
    short_or_over,
    stated_otherwise,
    what_arrived,
    what_to_report,
)
from distillery import figures
from distillery.alcoholometry.quantity import whole_grams
from distillery.plant import keeping
from distillery.plant.models import Kind as VesselKind
from ledger.posting.accounts import difference, source
from ledger.posting.drafts import JudgedAgainst
from ledger.posting.drafts import Line as PostedLine


def received(written: Completed) -> Posting:
    """What the document says was in each cask goes into it; what its gauge does not find is the difference."""
    lines: list[PostedLine | None] = []
    for line in written.rows:
        cask = line.account("cask")
        lines += (
            line.declared("consignor_litres", "consignor_percent", giver=source(UNDER_BOND), taker=cask),
            line.taken("", difference(OPERATION)),
        )
    return Posting(tuple(lines), judged=JudgedAgainst("the consignor's figure", arrived(written).sent_ul))


def to_be_right(written: Completed) -> list[Problem]:
    """Casks that the books know to be empty, and a reason for a difference that is reported."""
    problems = []
    for row, line in enumerate(written.rows):
        sentence = full_already(line.vessel("cask"), written.moment("received_at"), written.number)
        if sentence:
            problems.append(Problem("cask", row, sentence))
    return problems or reason_given(written)


def unlikely(written: Completed) -> list[Note]:
    """A document whose figures do not agree, and gauges that are far from them."""
    notes = [note for row, line in enumerate(written.rows) for note in stated_otherwise(line, row)]
    if beyond_threshold(written):
        said = f"{short_or_over(arrived(written))} than the consignor says, beyond the review threshold."
        notes.append(Note("document", None, said))
    return notes + seals_broken(written)


def cask_by_cask(written: Completed, now: datetime) -> Result | None:
    """Each cask by the document and by its gauge on arrival."""
    if len(written.rows) < 2:
        return None
    heads = (
        Head("Cask"),
        Head("Sent", "LPA", figure=True),
        Head("Arrived", "LPA", figure=True),
        Head("Short", "LPA", figure=True),
    )
    lines = []
    for line in written.rows:
        both = arrived_in(line)
        figures_of = (both.sent_ul, both.arrived_ul, both.short_ul)
        lines.append(Line((line.vessel("cask").code, *(figures.lpa(one) for one in figures_of))))
    return Result("Cask by cask", heads, tuple(lines), "short: sent less arrived")


def note_the_casks(written: Completed) -> None:
    """Each cask's own entry: its tare, since when it is full, which fill it is, and where it lies."""
    for line in written.rows:
        cask = line.vessel("cask").cask
        keeping.note_fill(
            cask,
            tare_g=whole_grams(line.real("tare_kg")),
            filled_at=line.moment("filled_at") if line.has("filled_at") else written.moment("received_at"),
            fill_number=line.whole("fill_number") if line.has("fill_number") else None,
            warehouse=line.text("warehouse", cask.warehouse),
        )


SHEET = Sheet(
    kind="cask_receipt",
    title="Receipt of casks under bond",
    plural="Receipts of casks under bond",
    operation=OPERATION,
    table="casks_received_under_bond",
    prefix="RC",
    number_column="receipt",
    moments=(
        Moment(name="received", label="Receipt", when="received_at", phase=Phase.DELIVERY, post=received),
        Moment(name="reported", label="Report of receipt", when="reported_at", phase=Phase.DELIVERY),
    ),
    sections=(
        Section(
            heading="Delivery",
            items=(
                *delivered("new make", "whisky"),
                fields.name("certificate", "Certificate", found_as="document", required=False),
            ),
        ),
        REPORTED,
    ),
    rows=Rows(
        heading="Casks",
        one="cask",
        each="cask",
        items=(
            fields.vessel(
                "cask",
                "Cask",
                VesselKind.CASK,
                new_as=NewCask(kind="cask_kind", litres="nominal_litres", by_log=True),
            ),
            fields.text("cask_kind", "Kind of cask", required=False),
            fields.litres("nominal_litres", "Nominal size", decimals=0, usual=("30", "700"), required=False),
            fields.count("fill_number", "Fill", usual=("1", "6"), required=False),
            fields.when("filled_at", "Filled at, by the document", required=False),
            *SENT,
            Gauge(prefix="", label="Cask", vessel="cask", role=Role.AFTER, by=By.WEIGHT, usual_percent=("40", "72")),
            fields.text("warehouse", "Warehouse", longest=LONGEST_WAREHOUSE, required=False),
            fields.text("row", "Row", longest=LONGEST_PLACE, required=False),
            fields.text("tier", "Tier", longest=LONGEST_PLACE, required=False),
        ),
    ),
    cautions=(CASKS, VAPOUR),
    list_columns=("received_at", "consignor", "document", "lot", "spirit", "reported_at"),
    after="receipt_under_bond",
    of_casks=OfCasks(cask="cask", warehouse="warehouse", row="row", tier="tier"),
    printed_title="Receipt of casks under bond",
    check=to_be_right,
    note=unlikely,
    results=(what_arrived, cask_by_cask, what_to_report),
    keep=note_the_casks,
)
