"""Count of bottled stock: the bottles found of one lot, against what its book has. It waits for a second person.

The book of the lot is brought to what was found; what is missing or over goes to what the counts of that stock found,
and the reason stands beside it (any surplus, deficiency or other discrepancy that a stock take shows is recorded:
Alcoholic products technical guide, section 9).
"""

from __future__ import annotations

from datetime import datetime

from batches.sheets import fields
from batches.sheets.cautions import GLASS
from batches.sheets.results import COMES_TO, Head, Line, Result
from batches.sheets.sheet import Counted, CountedBy, Field, Kind, Moment, Phase, Posting, Problem, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.stock import LOT_OF_BOTTLES, STOCK_FIELDS, one_bottle, so_many_bottles, stock_account
from batches.tracing.bottled_lots import bottled_lots
from distillery import figures
from distillery.alcoholometry.quantity import NOTHING
from ledger.models import Account
from ledger.posting.accounts import gauging_of
from ledger.posting.drafts import THE_BOOK, JudgedAgainst, Moved

FOUND = "bottles"


def counted(written: Completed) -> Posting:
    """What is missing or over, between the stock and what its counts found. Where all is there the count is an entry of
    nothing, so that it stands in the books and is made anew when its book moves.
    """
    stock = stock_account(written)
    account = Account.objects.get(code=stock.code)
    missing = _by_book(written) - written.whole(FOUND)
    apart = gauging_of(account)
    giver, taker = (stock, apart) if missing > 0 else (apart, stock)
    quantity = so_many_bottles(written, abs(missing)) if missing else NOTHING
    return Posting((Moved(giver, taker, quantity),), judged=JudgedAgainst(THE_BOOK))


def _by_book(written: Completed) -> int:
    """Bottles of the lot by its book as it was counted, this count left out."""
    account = Account.objects.filter(code=stock_account(written).code).first()
    if account is None:
        return 0
    code = written.text(LOT_OF_BOTTLES.name) if written.has(LOT_OF_BOTTLES.name) else ""
    lots = bottled_lots([account], until=written.moment("at"), without=written.number)
    return sum(one.held for one in lots if one.lot.casefold() == code.casefold())


def to_be_right(written: Completed) -> list[Problem]:
    """A stock that is in the books."""
    stock = stock_account(written)
    if not Account.objects.filter(code=stock.code).exists():
        said = f"There is no bottled stock of {stock.name} in the books; correct product, bottle or strength."
        return [Problem("product", None, said)]
    return []


def reason_if_apart(written: Completed) -> list[Problem]:
    """A reason for what is apart; asked for on a page alone, since a count that agreed may be made anew later."""
    apart = written.whole(FOUND) - _by_book(written)
    if apart and not written.has("reason"):
        said = (
            f"Bottles found is {figures.count(written.whole(FOUND))}, and the book has "
            f"{figures.count(_by_book(written))}; count again, then write a reason for the difference."
        )
        return [Problem("reason", None, said)]
    return []


def against_the_book(written: Completed, now: datetime) -> Result:
    """Found, by the book, and the difference."""
    found, book = written.whole(FOUND), _by_book(written)
    missing_ul = (book - found) * one_bottle(written).pure_ul
    heads = (
        Head("By the book", "bottles", figure=True),
        Head("Found", "bottles", figure=True),
        Head("Difference", "LPA", figure=True),
    )
    line = Line((figures.count(book), figures.count(found), figures.difference(missing_ul)))
    return Result(COMES_TO, heads, (line,))


SHEET = Sheet(
    kind="bottled_count",
    title="Count of bottled stock",
    plural="Counts of bottled stock",
    operation="stock take",
    table="bottled_counts",
    prefix="CB",
    number_column="count",
    moments=(Moment(name="counted", label="Count", when="at", phase=Phase.COUNT, post=counted),),
    sections=(
        Section(
            heading="What was counted",
            items=(
                fields.when("at", "Counted at"),
                *(one for one in STOCK_FIELDS if one.name != "bottles"),
                LOT_OF_BOTTLES,
                Field(
                    name=FOUND,
                    label="Bottles found",
                    kind=Kind.WHOLE,
                    impossible_below=fields.NOTHING,
                    impossible_above=fields.MOST_THINGS,
                ),
                fields.text("reason", "Reason for a difference", short="Reason", longest=200, required=False),
            ),
        ),
    ),
    cautions=(GLASS,),
    list_columns=("at", "product", "bottle_centilitres", "label_percent", LOT_OF_BOTTLES.name, FOUND, "reason"),
    second_person=True,
    takes_bottles=True,
    counted_by=CountedBy(what=Counted.BOTTLES, when="at", item=FOUND),
    after="stock_take",
    printed_title="Count of bottled stock",
    check=to_be_right,
    check_on_page=reason_if_apart,
    results=(against_the_book,),
)
