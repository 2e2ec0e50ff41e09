"""Sample: a little spirit drawn from a cask, vat or receiver, for whom and what for, and later what became of it.

Samples drawn and removed are recorded with their recipient; one that is no longer needed is destroyed, put back or duty
is paid on it (Excise Warehousing (Etc.) Regulations 1988, schedule 2 and regulation 17(1)). The list of these records
is the sample book; a record without an end is a sample that is still there.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from batches.sheets import fields
from batches.sheets.cautions import VAPOUR
from batches.sheets.results import Head, Line, Result
from batches.sheets.sheet import Field, Kind, Moment, Note, Phase, Posting, Problem, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.values import Ungaugeable
from batches.steps.shared.books import book_without
from distillery import figures
from distillery.alcoholometry.quantity import Quantity
from distillery.alcoholometry.strength import (
    ETHANOL_KG_PER_M3_20,
    percent_vol_of_mass_fraction,
)
from distillery.plant.models import MICRO
from distillery.plant.models import Kind as VesselKind
from ledger.posting.accounts import AccountRef, removal
from ledger.posting.drafts import Moved

DRAWN_FOR = ("strength", "nosing", "analysis", "reference", "officer", "trade")
USED_UP, DESTROYED, RETURNED, SENT = "used up in tests", "destroyed", "returned to the vessel", "sent to somebody"
ENDS = (USED_UP, DESTROYED, RETURNED, SENT)
MILLILITRES_A_LITRE = 1000.0


def strength_of(written: Completed) -> float:
    """Strength of the sample, % vol: as it was measured, or that of the vessel by its book.

    Raises Ungaugeable where neither is known.
    """
    if written.has("percent"):
        return written.real("percent")
    book = book_without(written.account("vessel"), written.moment("drawn_at"), written.number)
    if book.pure_ul <= 0 or book.mass_g <= 0:
        code = written.vessel("vessel").code
        raise Ungaugeable("percent", f"{code} has no strength in the books at that time; measure it and write it here.")
    ethanol_g = book.pure_ul / MICRO * ETHANOL_KG_PER_M3_20
    return percent_vol_of_mass_fraction(min(1.0, ethanol_g / book.mass_g))


def held(written: Completed) -> Quantity:
    """What the sample holds, from its volume at about 20 °C and its strength."""
    return _moved(written, written.account("vessel"), removal("samples"), written.moment("drawn_at")).quantity


def drawn(written: Completed) -> Posting:
    """The sample from its vessel to the samples."""
    return Posting((_moved(written, written.account("vessel"), removal("samples"), written.moment("drawn_at")),))


def ended(written: Completed) -> Posting:
    """A sample that is put back goes back into the books of its vessel; of any other it is only written what became."""
    if written.text("became") != RETURNED:
        return Posting(())
    return Posting((_moved(written, removal("samples"), written.account("vessel"), written.moment("ended_at")),))


def _moved(written: Completed, giver: AccountRef, taker: AccountRef, at: datetime) -> Moved:
    litres = written.real("millilitres") / MILLILITRES_A_LITRE
    return written.worked_out(litres, strength_of(written), at=at, giver=giver, taker=taker, field="millilitres")


def to_be_right(written: Completed) -> list[Problem]:
    """A vessel that holds as much, and a name for what was sent."""
    problems = []
    vessel = written.vessel("vessel")
    book = book_without(written.account("vessel"), written.moment("drawn_at"), written.number)
    try:
        wanted = held(written).pure_ul
    except Ungaugeable as error:
        return [Problem(error.field, None, error.sentence)]
    if book.pure_ul < wanted:
        said = (
            f"{vessel.code} holds {figures.lpa(max(0, book.pure_ul))} litres of pure alcohol in the books then, "
            "less than this sample; write first how it was filled."
        )
        problems.append(Problem("millilitres", None, said))
    if written.has("became") and written.text("became") == SENT and not written.has("sent_to"):
        problems.append(Problem("sent_to", None, "Write the name and address of whom the sample was sent to."))
    return problems


def unlikely(written: Completed) -> list[Note]:
    """A sample that was destroyed with nobody named as witness."""
    if not written.has("became") or written.text("became") != DESTROYED or written.has("witness"):
        return []
    return [Note("witness", None, "Nobody is named as witness; duty may be asked for what is destroyed unseen.")]


def holds(written: Completed, now: datetime) -> Result | None:
    """What the sample holds in pure alcohol, and by which strength."""
    found = held(written)
    by = "as measured" if written.has("percent") else f"of {written.vessel('vessel').code} by its book"
    heads = (Head("What"), Head("Figure", figure=True), Head("Unit"), Head("By"))
    lines = (
        Line(("Strength", figures.percent(found.percent20), "% vol", by)),
        Line(("Pure alcohol", figures.lpa(found.pure_ul, 4), "LPA", "")),
    )
    return Result("What the sample holds", heads, lines)


SHEET = Sheet(
    kind="sample",
    title="Sample",
    plural="Samples",
    operation="sample",
    table="samples",
    prefix="SA",
    number_column="sample",
    moments=(
        Moment(name="drawn", label="Sample drawn", when="drawn_at", phase=Phase.MOVE, post=drawn),
        Moment(
            name="ended",
            label="End of the sample",
            when="ended_at",
            phase=Phase.MOVE,
            post=ended,
            posts_where=("became", RETURNED),
        ),
    ),
    sections=(
        Section(
            heading="Drawn",
            items=(
                fields.when("drawn_at", "Drawn at"),
                fields.vessel("vessel", "From", *fields.DIPPED, VesselKind.CASK),
                fields.number("millilitres", "Volume", "mL", decimals=0, low="1", high="20000", usual=("20", "1000")),
                fields.percent(
                    "percent",
                    "Strength, where measured",
                    decimals=2,
                    usual=("36", "75"),
                    required=False,
                    help="Left blank, the vessel's strength by its book counts.",
                ),
                fields.text("purpose", "Drawn for", choices=DRAWN_FOR, longest=80),
                fields.text("recipient", "Recipient", longest=120),
            ),
        ),
        Section(
            heading="What became of it",
            moment="ended",
            items=(
                fields.when("ended_at", "Ended at", not_before="drawn_at"),
                Field(
                    name="became",
                    label="It was",
                    kind=Kind.CHOICE,
                    choices=ENDS,
                    help="A sample no longer needed is destroyed or put back, or duty is paid on it.",
                ),
                fields.text("sent_to", "Sent to, name and address", longest=200, required=False),
                fields.text("witness", "Witness, where destroyed", longest=80, required=False),
            ),
        ),
    ),
    cautions=(VAPOUR,),
    list_columns=("drawn_at", "vessel", "millilitres", "purpose", "recipient", "ended_at", "became"),
    after="re_racking",
    longest=timedelta(days=1830),
    printed_title="Sample",
    check=to_be_right,
    note=unlikely,
    results=(holds,),
)
