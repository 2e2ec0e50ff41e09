"""The stores as plain lists: what every record says now, added up in order of time. It shares no code with the book."""

from __future__ import annotations

from collections.abc import Sequence

from batches.stores.kinds import StockLine

ORDER = {"received": 0, "issued": 1, "counted": 2}


class PlainStores:
    """What each record says of each lot now, records in the order they were first written."""

    def __init__(self) -> None:
        self.said: dict[str, list[StockLine]] = {}

    def keep(self, record: str, lines: Sequence[StockLine]) -> None:
        """A record says these lines from now on."""
        self.said[record] = list(lines)

    def would_fit(self, record: str, lines: Sequence[StockLine]) -> bool:
        """True where no lot that was received falls below nothing at any time."""
        other = PlainStores()
        other.said = dict(self.said)
        other.keep(record, lines)
        return all(other._fits(key) for key in {line.lot.casefold() for one in other.said.values() for line in one})

    def _fits(self, key: str) -> bool:
        lines = [line for one in self.said.values() for line in one if line.lot.casefold() == key]
        here = any(line.act == "received" for line in lines)
        return not here or min(self.helds(key), default=0) >= 0

    def helds(self, key: str) -> list[int]:
        """What a lot holds after each thing said of it."""
        lines = [
            (line.at, ORDER[line.act], place, line.row or 0, line)
            for place, one in enumerate(self.said.values())
            for line in one
            if line.lot.casefold() == key
        ]
        held, after = 0, []
        for *_, line in sorted(lines, key=lambda one: one[:4]):
            held = {"received": held + line.amount, "issued": held - line.amount, "counted": line.amount}[line.act]
            after.append(held)
        return after
