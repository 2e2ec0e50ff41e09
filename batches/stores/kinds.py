"""What is kept in the stores, what can happen to a lot, and one thing that a version of a record says of one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class MaterialKind(StrEnum):
    """What is kept in the stores by lot. Its value is what a sheet, a list and a page call it."""

    MALT = "malt"
    YEAST = "yeast"
    BOTANICAL = "botanical"
    CHARCOAL = "charcoal"
    SPIRIT = "neutral spirit"
    CASK = "cask"
    BOTTLE = "bottle"
    CLOSURE = "closure"
    FILTER_SHEET = "filter sheet"

    @property
    def in_pieces(self) -> bool:
        """True where it is counted; otherwise it is weighed."""
        return self in (
            MaterialKind.CASK,
            MaterialKind.BOTTLE,
            MaterialKind.CLOSURE,
            MaterialKind.FILTER_SHEET,
        )

    @property
    def may_run_short(self) -> bool:
        """True where more may be written down than the book holds, once that was asked: what was put in a silo and
        drawn from it is known to a part in a hundred, so the book of malt may be what is wrong. Of anything else the
        lot is counted first.
        """
        return self is MaterialKind.MALT


class Act(StrEnum):
    """What happened to a lot. Within one minute lots are received before they are issued, and counted last."""

    RECEIVED = "received"
    ISSUED = "issued"
    COUNTED = "counted"

    @property
    def place(self) -> int:
        """Its place among what happened in the same minute."""
        return list(Act).index(self)


@dataclass(frozen=True, slots=True)
class StockLine:
    """One thing a version of a record says of one lot. `amount` is in whole grams or pieces and never below nothing;
    of a count it is what was found.

    `field` and `row` say where on the sheet the amount stands (rows from 0), `lot_field` where the lot does. `name` is
    what the lot is called in words. `silo` is where it is put; of what is issued without a lot, the silo whose lots are
    drawn on, and of what is counted without one, the silo of whose lots so much is left together.
    """

    act: Act
    kind: MaterialKind
    lot: str
    amount: int
    at: datetime
    field: str
    row: int | None
    lot_field: str = ""
    name: str = ""
    silo: str = ""

    @property
    def is_draw(self) -> bool:
        """True where no lot is named, and those the silo holds are drawn on."""
        return self.act is Act.ISSUED and not self.lot and bool(self.silo)

    @property
    def is_of_silo(self) -> bool:
        """True where no lot is named: the lots a silo holds are drawn on, or counted together."""
        return self.act is not Act.RECEIVED and not self.lot and bool(self.silo)
