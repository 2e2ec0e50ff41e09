"""Bottled stock: whole bottles of one product, one size and one label strength."""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.sheet import Problem
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.values import Ungaugeable
from batches.steps.shared.books import least_without
from batches.tracing.bottled_lots import bottled_lots
from distillery import figures
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.gauging.gauge import gauge_by_count
from distillery.alcoholometry.quantity import Quantity
from ledger.models import Account
from ledger.posting.accounts import AccountRef, bottled_account
from ledger.posting.drafts import Moved

STOCK_FIELDS = (
    fields.name("product", "Product", found_as="product"),
    fields.number("bottle_centilitres", "Bottle", "cl", low="1", high="500", usual=("5", "150")),
    fields.percent("label_percent", "Strength on the label", low="0.1", usual=("37.5", "65"), most_decimals=1),
    fields.count("bottles", "Bottles", from_stock=True),
)

# Of which lot the bottles are that leave, come back or are emptied again.
LOT_OF_BOTTLES = fields.name("lot_code", "Lot code", lot=True, required=False)


def stock_name(written: Completed) -> str:
    """The stock in words: gin, 70 cl at 41.4 %."""
    return stock_account(written).name


def one_bottle(written: Completed) -> Quantity:
    """What one bottle holds by its label. Raises Ungaugeable for a label that cannot be."""
    return _count(written, 1)


def so_many_bottles(written: Completed, bottles: int) -> Quantity:
    """What so many bottles hold by their label. Raises Ungaugeable for a label that cannot be."""
    return _count(written, bottles)


def bottles_moved(written: Completed, giver: AccountRef, taker: AccountRef) -> Moved:
    """The line for the bottles on the sheet, by what their label says they hold."""
    columns = {"bottles": "bottles", "centilitres": "bottle_centilitres", "percent": "label_percent"}
    return written.counted(giver, taker, columns)


def stock_account(written: Completed) -> AccountRef:
    """The account of the stock on the sheet; 'Gin' and 'gin' are one product, named as it was first written."""
    product = " ".join(written.text("product").split())
    size, strength = written.decimal("bottle_centilitres"), written.decimal("label_percent")
    pure_ul = one_bottle(written).pure_ul
    ref = bottled_account(product, size, strength, pure_ul)
    known = Account.objects.filter(code__iexact=ref.code).values_list("code", flat=True).first()
    if known is None or known == ref.code:
        return ref
    return bottled_account(known.removeprefix("stock:").rsplit("/", 2)[0], size, strength, pure_ul)


def bottles_in_stock(written: Completed) -> int:
    """How many bottles can leave at the moment of the sheet without a later entry going short."""
    least = least_without(stock_account(written), written.moment("at"), written.number)
    return max(0, least // one_bottle(written).pure_ul)


def enough_bottles(written: Completed) -> list[Problem]:
    """Bottles that are not there cannot leave their stock, and no more of a lot than it has."""
    wanted, there = written.whole("bottles"), bottles_in_stock(written)
    if wanted <= there:
        return _enough_of_lot(written, wanted) if written.has(LOT_OF_BOTTLES.name) else []
    said = (
        f"Bottles is {figures.count(wanted)}, but there are {figures.count(there)} bottles of {stock_name(written)} "
        "in bond at that time."
    )
    return [Problem("bottles", None, said)]


def _enough_of_lot(written: Completed, wanted: int) -> list[Problem]:
    account = Account.objects.filter(code=stock_account(written).code).first()
    lots = bottled_lots([account], until=written.moment("at"), without=written.number) if account is not None else []
    code = written.text(LOT_OF_BOTTLES.name)
    held = {one.lot.casefold(): one.held for one in lots if one.held > 0}
    if wanted <= (there := held.get(code.casefold(), 0)):
        return []
    if there:
        said = f"Bottles is {figures.count(wanted)}, but lot {code} has {figures.count(there)} in bond at that time."
        return [Problem("bottles", None, said)]
    others = ", ".join(f"{one.lot} ({figures.count(one.held)})" for one in lots if one.lot and one.held > 0)
    said = f"Lot {code} of {stock_name(written)} has no bottles in bond at that time; {_instead(others)}."
    return [Problem(LOT_OF_BOTTLES.name, None, said)]


def _instead(others: str) -> str:
    return f"these lots have: {others}" if others else "leave the lot blank where it is not known"


def _count(written: Completed, bottles: int) -> Quantity:
    try:
        quantity = gauge_by_count(
            bottles=bottles,
            centilitres=written.decimal("bottle_centilitres"),
            label_percent=written.decimal("label_percent"),
        )
    except AlcoholometryError as error:
        raise Ungaugeable("label_percent", str(error)) from error
    if not quantity.pure_ul:
        raise Ungaugeable("label_percent", "Strength on the label is 0; a bottle of spirit has some.")
    return quantity
