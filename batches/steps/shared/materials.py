"""Lines that name a lot of any material: their fields, and what has to agree on each of them."""

from __future__ import annotations

from collections.abc import Iterator

from batches.sheets import fields
from batches.sheets.sheet import Field, Kind, MaterialKind, Problem
from batches.sheets.typed.completed import Completed, Written
from batches.stores.book import lot_meant

# Malt comes by its own sheet, neutral spirit is gauged in under bond.
MATERIALS = tuple(one.value for one in MaterialKind if one is not MaterialKind.SPIRIT)
NOTHING, MOST_PIECES = fields.NOTHING, fields.MOST_THINGS


def which_material(choices: tuple[str, ...] = MATERIALS) -> Field:
    """The field that says which material a line is about."""
    return Field(name="material", label="Material", kind=Kind.CHOICE, choices=choices)


def weight_or_pieces(label: str) -> tuple[Field, Field]:
    """The two fields of an amount: what is weighed has the first, what is counted the second."""
    return (
        fields.kilograms("kilograms", f"{label}, weight", short="Weight", decimals=3, required=False),
        Field(
            name="pieces",
            label=f"{label}, pieces",
            short="Pieces",
            kind=Kind.WHOLE,
            impossible_below=NOTHING,
            impossible_above=MOST_PIECES,
            required=False,
        ),
    )


def amounts_fit(written: Completed) -> Iterator[Problem]:
    """What is weighed has a weight and what is counted a number of pieces, and not the other."""
    for row, line in enumerate(written.rows):
        kind = kind_of(line)
        there, other, unit = ("pieces", "kilograms", "pieces") if kind.in_pieces else ("kilograms", "pieces", "kg")
        if not line.has(there):
            yield Problem(there, row, f"Lot {line.text('lot')} is {kind}, which is kept in {unit}; write how many.")
        if line.has(other):
            yield Problem(other, row, f"Lot {line.text('lot')} is {kind}, which is kept in {unit}; leave this blank.")


def received_here(written: Completed) -> Iterator[Problem]:
    """Only a lot that came into these stores has a book that can be counted, or be drawn on without use."""
    for row, line in enumerate(written.rows):
        lot = lot_meant(kind_of(line), line.text("lot"))
        if lot is None or not lot.is_here:
            yield Problem(
                "lot",
                row,
                f"No {kind_of(line)} of lot {line.text('lot')} was received here; write its receipt first, or look "
                "the lot up under Stores.",
            )


def kind_of(line: Written) -> MaterialKind:
    """The material of a line."""
    return MaterialKind(line.text("material"))
