"""What a sheet as it was written says of the stores: each lot received, issued or counted, when, and how much.

Amounts are whole grams or whole pieces. A line counts from the moment it belongs to; a lot without an amount, or an
amount without a lot, says nothing to the stores.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal

from batches.models import Record
from batches.sheets.fields import LONGEST_NAME
from batches.sheets.materials.declared import Material
from batches.sheets.sheet import Sheet
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.values import Value
from batches.stores.kinds import Act, MaterialKind, StockLine

GRAMS_A_KILOGRAM = 1000

Values = Mapping[str, Value]


def said_by(completed: Completed) -> list[StockLine]:
    """What a sheet that was read says of the stores, for the moments that have happened."""
    number = completed.number
    return list(lines_of(completed.sheet, number, completed.values, [one.values for one in completed.rows]))


def stock_fields(sheet: Sheet) -> set[str]:
    """The fields that have to be read for what a sheet says of the stores."""
    named = {name for _act, one in _declared(sheet) for name in one.fields}
    return named | {moment.when for moment in sheet.moments}


def _declared(sheet: Sheet) -> list[tuple[Act, Material]]:
    return [
        *((Act.RECEIVED, one) for one in sheet.receives),
        *((Act.ISSUED, one) for one in sheet.materials if one.is_stock),
        *((Act.COUNTED, one) for one in sheet.counts),
    ]


def lines_of(sheet: Sheet, number: str, values: Values, rows: Sequence[Values]) -> Iterator[StockLine]:
    """What the values of a sheet and of its repeating lines say of the stores."""
    of_row = {one.name for one in sheet.row_fields}
    for act, one in _declared(sheet):
        repeats = bool(of_row & set(one.fields))
        for row, line in enumerate(rows) if repeats else [(None, None)]:
            said = _line(sheet, act, one, number, {**values, **(line or {})}, row)
            if said is not None:
                yield said


def _line(sheet: Sheet, act: Act, one: Material, number: str, values: Values, row: int | None) -> StockLine | None:
    place = one.weighed or one.counted or one.field
    kind = one.kind or _kind(values.get(one.kind_from))
    at = values.get(sheet.moment_of(place).when)
    named = values.get(one.field) if one.field else number
    lot = "" if one.found_in else named.number if isinstance(named, Record) else str(named or "").strip()
    silo = _silo(one, lot, values)
    if kind is None or not isinstance(at, datetime) or not (lot or silo):
        return None
    amount = _amount(one, kind, values)
    if amount is None or (amount == 0 and act is not Act.COUNTED):
        return None
    name = str(values.get(one.named, ""))[:LONGEST_NAME] if one.named else ""
    place = one.counted if one.counted and (kind.in_pieces or not one.weighed) else place
    return StockLine(act, kind, lot, amount, at, place, row, one.field, name, silo)


def _silo(one: Material, lot: str, values: Values) -> str:
    """The silo a lot is put into, or the one that lots are drawn from or found in where none is named."""
    place = one.put_in or one.found_in or (one.drawn_from if not lot else "")
    return str(values.get(place) or "").strip() if place else ""


def _kind(value: Value | None) -> MaterialKind | None:
    try:
        return MaterialKind(str(value))
    except ValueError:
        return None


def _amount(one: Material, kind: MaterialKind, values: Values) -> int | None:
    if one.one_each:
        return 1
    value = values.get(one.counted if kind.in_pieces else one.weighed)
    if not isinstance(value, int | Decimal):
        return None
    return int(value) if kind.in_pieces else grams(Decimal(value))


def grams(kilograms: Decimal) -> int:
    """Whole grams of a weight in kg, half a gram up."""
    return int((kilograms * GRAMS_A_KILOGRAM).quantize(Decimal(1), rounding=ROUND_HALF_UP))
