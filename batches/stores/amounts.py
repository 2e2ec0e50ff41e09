"""How an amount of material is written: kilograms of whole grams, or pieces."""

from __future__ import annotations

from batches.stores.kinds import MaterialKind
from distillery import figures


def shown(kind: MaterialKind, amount: int) -> str:
    """'1,250.0 kg' or '600 pieces'."""
    if kind.in_pieces:
        return f"{figures.count(amount)} {'piece' if abs(amount) == 1 else 'pieces'}"
    return f"{number(kind, amount)} kg"


def number(kind: MaterialKind, amount: int, style: figures.Style = figures.PAGE) -> str:
    """The figure alone: whole pieces, or kilograms to a tenth, and as finely as it was weighed where that is finer."""
    if kind.in_pieces:
        return figures.count(amount, style)
    places = next(places for places, grams in enumerate((100, 10, 1), start=1) if amount % grams == 0)
    return figures.kilograms(amount, places, style)
