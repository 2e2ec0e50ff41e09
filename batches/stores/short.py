"""What is noted, and so asked, before more of a lot is written down than its book holds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from batches.stores.amounts import shown
from batches.stores.book import held_at, lot_meant, others_in_stock
from batches.stores.kinds import Act, StockLine
from batches.stores.silos import free_in


@dataclass(frozen=True, slots=True)
class RunsShort:
    """A line that asks for more than its lot holds then, and what to say behind its label: 'is 12 kg, but ...'."""

    line: StockLine
    sentence: str


def running_short(lines: Iterable[StockLine], *, number: str) -> Iterator[RunsShort]:
    """The lines of a record issued beyond the book, of materials whose book may be what is wrong.

    What the record itself says of the lot already is left out of the book.
    """
    for line in lines:
        if line.act is not Act.ISSUED or not line.kind.may_run_short:
            continue
        if line.is_draw:
            yield from _silo_running_short(line, number)
            continue
        lot = lot_meant(line.kind, line.lot)
        if lot is None or not lot.is_here:
            continue
        held = held_at(lot, line.at, without=number)
        if line.amount <= held:
            continue
        sentence = f"is {shown(line.kind, line.amount)}, but the book of lot {lot.code} holds {shown(line.kind, held)}."
        if others := others_in_stock(lot):
            named = ", ".join(f"{one.code} ({shown(line.kind, one.held)})" for one in others)
            sentence += f" Other lots in stock: {named}."
        yield RunsShort(line, sentence)


def _silo_running_short(line: StockLine, number: str) -> Iterator[RunsShort]:
    """A draw of more than the lots of its silo can give. A lot below nothing is told too: its book is wrong already."""
    lots = free_in(line.kind, line.silo, line.at, without=number)
    free = sum(one.amount for one in lots)
    below = [one.lot for one in lots if one.lot.held < 0]
    if line.amount > free and lots:
        held = f"the lots in silo {line.silo} have {shown(line.kind, free)} that nothing else has drawn"
        yield RunsShort(line, f"is {shown(line.kind, line.amount)}, but by their books {held}.")
    elif below:
        named = ", ".join(f"{one.code} ({shown(line.kind, one.held)})" for one in below)
        yield RunsShort(line, f"comes from silo {line.silo}, where a lot holds less than nothing by its book: {named}.")
