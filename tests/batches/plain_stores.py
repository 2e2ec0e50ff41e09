"""The stores as plain lists: what every record says now, added up in order of time. It shares no code with the book."""

from __future__ import annotations

from collections.abc import Sequence

from batches.stores.kinds import StockLine

ORDER = {"received": 0, "issued": 1, "counted": 2}


class PlainStores:
    """What each record says of each lot, in the order it was first written."""

    def __init__(self) -> None:
        self.said: dict[str, list[tuple[int, StockLine]]] = {}
        self.written = 0

    def keep(self, record: str, lines: Sequence[StockLine]) -> None:
        """A record says these lines from now on; what it says still keeps its place."""
        left = list(self.said.get(record, []))
        kept = []
        for line in lines:
            place = next((one for one in left if self._same(one[1], line)), None)
            if place is not None:
                left.remove(place)
                kept.append(place)
            else:
                self.written += 1
                kept.append((self.written, line))
        self.said[record] = kept

    def would_fit(self, record: str, lines: Sequence[StockLine]) -> bool:
        """True where no lot that was received, and that this changes, falls below nothing at any time."""
        other = PlainStores()
        other.said, other.written = dict(self.said), self.written
        other.keep(record, lines)
        return all(other._fits(key) for key in {line.lot.casefold() for one in other.said.values() for _, line in one})

    def _fits(self, key: str) -> bool:
        here = any(
            line.act == "received" and line.lot.casefold() == key for one in self.said.values() for _, line in one
        )
        return not here or min(self.helds(key), default=0) >= 0

    def helds(self, key: str) -> list[int]:
        """What a lot holds after each thing said of it."""
        lines = [(place, line) for one in self.said.values() for place, line in one if line.lot.casefold() == key]
        held, after = 0, []
        for _place, line in sorted(lines, key=lambda one: (one[1].at, ORDER[one[1].act], one[0])):
            held = {"received": held + line.amount, "issued": held - line.amount, "counted": line.amount}[line.act]
            after.append(held)
        return after

    @staticmethod
    def _same(one: StockLine, other: StockLine) -> bool:
        return (one.act, one.lot.casefold(), one.at, one.amount, one.row) == (
            other.act,
            other.lot.casefold(),
            other.at,
            other.amount,
            other.row,
        )
