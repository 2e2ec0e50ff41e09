"""Stock take: vessels gauged against their books. It is posted only when a second person has agreed to it.

A washback whose fermentation is declared is gauged as wash: dip, temperature, present gravity, with the original
gravity of its fermentation (HMRC Spirits Production Manual SPIR4080 asks for dip, gravities and temperature). One that
still ferments is noted and not posted: its alcohol is not in the books.
"""

from __future__ import annotations

from datetime import datetime

from batches.sheets import fields
from batches.sheets.cautions import VAPOUR
from batches.sheets.results import Head, Line, Result
from batches.sheets.sheet import (
    Counted,
    CountedBy,
    Gauge,
    Moment,
    Note,
    Phase,
    Posting,
    Problem,
    Role,
    Rows,
    Section,
    Sheet,
    StockTaken,
)
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.values import Ungaugeable
from batches.steps.shared.books import book_without
from batches.steps.shared.wash import gauged_as_what_it_is, only_noted
from distillery import figures
from ledger.models import Gauge as Measured
from ledger.posting.accounts import gauging
from ledger.posting.drafts import THE_BOOK, JudgedAgainst

PRESENT_GRAVITY = "present_gravity"
BOOK_HEADS = (
    Head("Vessel"),
    Head("Book", "LPA", figure=True),
    Head("Gauged", "LPA", figure=True),
    Head("Difference", "LPA", figure=True),
)


def taken(written: Completed) -> Posting:
    """Each vessel's book brought to its gauge, against what its gauging found; what still ferments left out."""
    declared = (line for line in written.rows if line.working("gauge") is None)
    lines = tuple(line.taken("gauge", gauging(line.vessel("vessel"))) for line in declared)
    return Posting(lines, judged=JudgedAgainst(THE_BOOK) if lines else None)


def proved_rightly(written: Completed) -> list[Problem]:
    """Wash by its gravities, spirit by its hydrometer."""
    return [one for index, line in enumerate(written.rows) for one in gauged_as_what_it_is(line, "gauge", index)]


def still_fermenting(written: Completed) -> list[Note]:
    """Washbacks that are noted and not posted."""
    return [one for index, line in enumerate(written.rows) for one in only_noted(line, "gauge", index)]


def beside_the_book(written: Completed, now: datetime) -> Result | None:
    """Each vessel's gauge beside the book it met, for whoever puts a second name to it; nothing before it is saved,
    since who gauges is not to know the book.
    """
    if not written.number or not written.has("at"):
        return None
    at, lines = written.moment("at"), []
    # Once it is posted, each gauge is kept with the book it met.
    own = Measured.objects.standing().filter(movement__record_number=written.number)
    met = dict(own.values_list("account__code", "book_ul"))
    for line in written.rows:
        if not line.has("vessel") or line.working("gauge") is not None:
            continue
        try:
            gauged = line.quantity("gauge", at=at).pure_ul
        except Ungaugeable:
            continue
        account = line.account("vessel")
        book = met[account.code] if account.code in met else book_without(account, at, written.number).pure_ul
        texts = (line.vessel("vessel").code, figures.lpa(book), figures.lpa(gauged), figures.difference(book - gauged))
        lines.append(Line(texts))
    return Result("Beside the book", BOOK_HEADS, tuple(lines)) if lines else None


SHEET = Sheet(
    kind="stock_take",
    title="Stock take",
    plural="Stock takes",
    operation="stock take",
    table="stock_take",
    prefix="ST",
    identity=("at",),
    moments=(Moment(name="taken", label="Stock take", when="at", phase=Phase.COUNT, post=taken),),
    sections=(Section(heading="Stock take", items=(fields.when("at", "Taken at"),)),),
    rows=Rows(
        heading="Vessels",
        one="vessel",
        each="vessel",
        items=(
            fields.vessel("vessel", "Vessel", *fields.DIPPED_OR_WASHBACK),
            Gauge(prefix="gauge", label="Gauge", vessel="vessel", role=Role.BEFORE, present_gravity=PRESENT_GRAVITY),
            fields.gravity(
                PRESENT_GRAVITY,
                "Present gravity",
                usual=("0.994", "1.075"),
                required=False,
                help="Of wash only; left blank, the final gravity counts.",
            ),
        ),
    ),
    cautions=(VAPOUR,),
    list_columns=("at",),
    second_person=True,
    check=proved_rightly,
    note=still_fermenting,
    results=(beside_the_book,),
    after="removal",
    takes_stock=StockTaken.AGAIN,
    counted_by=CountedBy(what=Counted.VESSEL, when="at", item="vessel"),
    printed_title="Stock take",
)
