"""How a step declares materials: which lot, which kind of material, and how much of it.

Materials are no alcohol, so they have no account in the ledger; their book is kept by lot (`batches.stores`), in whole
grams or whole pieces. `Sheet.materials` are issued to a record, `Sheet.receives` come into the stores by it, and
`Sheet.counts` are found there by it.
"""

from __future__ import annotations

from dataclasses import dataclass

from batches.stores.kinds import MaterialKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """One lot on a sheet, and how much of it: single fields, or fields of the repeating line.

    `field` names the lot: a text field with `lot`, or the record that received it, whose number is the lot's. Blank
    in what a sheet receives: the record's own number is the lot's. `kind` is the material, or `kind_from` the field
    that says which (its text is a value of MaterialKind). `weighed` is the field of its weight in kg, `counted` that
    of its pieces, `one_each` takes one piece a line. `named` is the field that says what it is in words (juniper),
    `put_in` the silo it is received into, `drawn_from` the silo it is drawn from where the sheet names no lot: the
    lots are then those the silo holds, first in first out. `found_in` is the silo of which is said how much is left
    of all its lots together. `blends` are figures of what is received that mix by mass.

    Without a kind nothing is kept in the stores: the record named is handed on whole (a mash to its fermentation), and
    the link goes by the pure alcohol that is declared. `said` is what is handed on where nothing of it is measured in a
    link (weak worts).
    """

    field: str
    weighed: str = ""
    counted: str = ""
    kind: MaterialKind | None = None
    kind_from: str = ""
    named: str = ""
    put_in: str = ""
    drawn_from: str = ""
    found_in: str = ""
    one_each: bool = False
    blends: tuple[str, ...] = ()
    said: str = ""

    @property
    def is_stock(self) -> bool:
        """True where the stores keep a book of it."""
        return self.kind is not None or bool(self.kind_from)

    @property
    def fields(self) -> tuple[str, ...]:
        """Every field it speaks of."""
        named = (
            *(self.field, self.weighed, self.counted, self.kind_from, self.named),
            *(self.put_in, self.drawn_from, self.found_in),
        )
        return tuple(name for name in named if name)

    def __post_init__(self) -> None:
        if self.is_stock and not (self.weighed or self.counted or self.one_each):
            raise ValueError(f"{self.field or 'A lot received'} is kept in the stores and nothing says how much.")
