"""The figures of a return as comma-separated text: one line a figure, plain numbers."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence
from io import StringIO
from typing import Any, Final

from batches.returns.came_back import BackLine
from batches.returns.duty_lines import ReturnLine
from batches.returns.figures import MonthFigures, QuarterFigures, line_key, which_key
from batches.returns.of_which import OfWhich
from batches.returns.quarter import Quarter
from batches.returns.warehouse import LINES
from distillery import tables_out
from distillery.figures import PLAIN, kilograms, litres_from_ul, lpa, number, pounds

COLUMNS: Final = (
    "period",
    "part",
    "line",
    "of",
    "records",
    "tax type",
    "litres at 20 °C",
    "litres of pure alcohol",
    "rate, pounds per litre of pure alcohol",
    "duty, pounds",
    "kilograms",
    "movements",
    "casks or bottles",
)
PENCE_HUNDREDTHS_A_POUND: Final = 10_000
_Row = Sequence[Any]


def as_csv(figures: MonthFigures | QuarterFigures) -> str:
    """All of it; what is not known stands blank."""
    text = StringIO()
    out = csv.writer(text, lineterminator="\r\n")
    out.writerow(COLUMNS)
    for row in _quarter(figures.made) if isinstance(figures, QuarterFigures) else _month(figures):
        cells = [figures.span.code, *row]
        out.writerow(tables_out.row([*cells, *[""] * (len(COLUMNS) - len(cells))]))
    return text.getvalue()


def _month(figures: MonthFigures) -> Iterator[_Row]:
    for part, lines in (("duty", figures.duty), ("under-declared", figures.under), ("over-declared", figures.over)):
        for one in lines:
            yield _line(part, one)
    for part, back in (("spoilt", figures.spoilt), ("drawback", figures.drawback)):
        for line in back:
            yield _back(part, line)
    for moved in figures.suspended:
        volume, alcohol = litres_from_ul(moved.litres20_ul, 2, PLAIN), lpa(moved.pure_ul, 4, PLAIN)
        yield "suspension", moved.line, "", "", "", volume, alcohol, "", "", "", _numbers(moved.movements)
    for goods in figures.classes:
        counted = goods.lie_in
        yield [*_stock(goods.stage, "opening", goods.opening_ul), "" if counted is None else counted.opening]
        for name in LINES:
            if goods.lines.get(name):
                yield _stock(goods.stage, name, goods.lines[name], goods.movements[name])
        yield [*_stock(goods.stage, "closing", goods.closing_ul), "" if counted is None else counted.closing]
    if figures.quarter is not None:
        yield from _quarter(figures.quarter)


def _line(part: str, one: ReturnLine) -> _Row:
    records = " ".join(record for _, record in one.records)
    volume, alcohol = litres_from_ul(abs(one.litres20_ul), 2, PLAIN), lpa(abs(one.pure_ul), 4, PLAIN)
    owed = "" if one.pence is None else pounds(abs(one.pence), PLAIN)
    key = line_key("duty", one) if part == "duty" else line_key(part, one)
    return part, key, one.of, records, one.tax_type, volume, alcohol, _rate(one.rate), owed, "", _numbers(one.movements)


def _back(part: str, one: BackLine) -> _Row:
    volume, alcohol = litres_from_ul(one.litres20_ul, 2, PLAIN), lpa(one.pure_ul, 4, PLAIN)
    owed = "" if one.pence is None else pounds(one.pence, PLAIN)
    rate, numbers = _rate(one.rate), _numbers(one.movements)
    return part, one.claim, one.of, one.record, one.tax_type, volume, alcohol, rate, owed, "", numbers


def _stock(stage: str, line: str, pure_ul: int, movements: Iterable[int] = ()) -> _Row:
    return "stock", f"{stage}: {line}", "", "", "", "", lpa(pure_ul, 4, PLAIN), "", "", "", _numbers(movements)


def _quarter(made: Quarter) -> Iterator[_Row]:
    for one in made.kinds:
        alcohol = lpa(one.amount, 4, PLAIN)
        yield "spirits made", one.name, "", "", "", "", alcohol, "", "", "", _numbers(one.movements)
    for which in made.of_which:
        said, alcohol = f"{which_key(which)}{_because(which)}", lpa(which.amount, 4, PLAIN)
        yield "spirits made", said, "", "", "", "", alcohol, "", "", "", _numbers(which.movements)
    for one in made.cereals:
        records = " ".join(dict.fromkeys(used.record for used in one.used))
        yield "cereals used", one.name, "", records, "", "", "", "", "", kilograms(one.amount, 3, PLAIN), ""


def _because(which: OfWhich) -> str:
    return f" ({'; '.join(which.why)})" if which.why else ""


def _rate(rate: int | None) -> str:
    return "" if rate is None else number(rate / PENCE_HUNDREDTHS_A_POUND, 2, PLAIN)


def _numbers(movements: Iterable[int]) -> str:
    return " ".join(str(one) for one in movements)
