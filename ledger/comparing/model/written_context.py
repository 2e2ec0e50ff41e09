"""What stood around a written value: limits of its table, the vessel's last value, what it may have been exchanged
with.

From it the slip list knows which right values a slip of the pen would leave, and which cannot be at all.
The range R an error of any other kind could come from is common practice, no source: the dip table's length, the stem
of the hydrometers, the span of a thermometer, a scale's or a count's own figure.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from ledger.comparing.model.balance_model import Known
from ledger.comparing.observations.observed import Log
from ledger.comparing.statistics.faults.slips import ReadingKind, Written

KINDS = {
    "dip_mm": ReadingKind.DIP,
    "celsius": ReadingKind.TEMPERATURE,
    "hydrometer_percent": ReadingKind.HYDROMETER,
    "original_gravity": ReadingKind.GRAVITY,
    "final_gravity": ReadingKind.GRAVITY,
    "gross_kg": ReadingKind.WEIGHT,
    "tare_kg": ReadingKind.WEIGHT,
    "bottles": ReadingKind.COUNT,
    "litres": ReadingKind.METER,
    "percent": ReadingKind.METER,
}
_RANGES = {
    ReadingKind.DIP: 2000.0,
    ReadingKind.TEMPERATURE: 45.0,
    ReadingKind.HYDROMETER: 97.0,
    ReadingKind.GRAVITY: 0.2,
}
_COUNTERPARTS = {
    "original_gravity": "final_gravity",
    "final_gravity": "original_gravity",
    "gross_kg": "tare_kg",
    "tare_kg": "gross_kg",
}
_MOST_NEIGHBOURS = 3
LEAST_DIP_MM = 1.0
_MOST_TIMES_WRITTEN = 12.0


class WrittenContext:
    """Looks round a reading in the log; made once for a month."""

    def __init__(self, log: Log, known: dict[str, Known]) -> None:
        self._log = log
        self._known = known
        self._made: dict[str, Written | None] = {}
        # Readings of a record, by the record and what kind of reading they are.
        self._beside: dict[tuple[str, str], list[str]] = defaultdict(list)
        self._last: dict[str, str] = {}
        latest: dict[tuple[str, str], str] = {}
        there: set[str] = set()
        for event in log.events:
            for one in event.measured.readings:
                if one.record == event.doing.record and one.key not in there:
                    there.add(one.key)
                    self._beside[one.record, known[one.key].seen.part].append(one.key)
                place = (event.measured.vessel, one.part)
                if one.key not in self._last and place in latest and latest[place] != one.key:
                    self._last[one.key] = latest[place]
                latest[place] = one.key

    def written(self, key: str) -> Written | None:
        """The value as it stood on the sheet with what stood around it; None for what nobody wrote."""
        if key not in self._made:
            self._made[key] = self._look(self._known[key])
        return self._made[key]

    def _look(self, known: Known) -> Written | None:
        seen = known.seen
        kind = KINDS.get(seen.part)
        if kind is None or not seen.column:
            return None
        lowest, highest = float("-inf"), float("inf")
        reach = _RANGES.get(kind, max(abs(seen.value), 1.0))
        if kind is ReadingKind.DIP and known.vessel in self._log.table_ends:
            lowest, highest = self._log.table_ends[known.vessel]
            # It found liquid, and a dip of nothing has no slope.
            lowest = max(lowest, LEAST_DIP_MM)
            reach = max(highest - lowest, 1.0)
        if kind is ReadingKind.METER:
            # A residue that is ten times another is a slip of the decimal; a hundred times one cannot be.
            highest = _MOST_TIMES_WRITTEN * max(seen.value, 0.1)
        # The slip list takes the vessel's last value for a right one, which an opening gauge always resembles; it is
        # looked at for how far a temperature can be from it.
        last = self._last.get(seen.key) if kind is ReadingKind.TEMPERATURE else None
        return Written(
            kind=kind,
            value=seen.value,
            size_range=reach,
            decimals=decimals(seen.typed),
            lowest=lowest,
            highest=highest,
            previous=self._known[last].seen.value if last else None,
            neighbours=tuple(self._neighbours(known)),
            counterpart=self._counterpart(known),
        )

    def _neighbours(self, known: Known) -> Sequence[tuple[str, float]]:
        others = [
            (self._known[key].seen.column, self._known[key].seen.value)
            for key in self._beside.get((known.seen.record, known.seen.part), ())
            if key != known.seen.key and self._known[key].vessel != known.vessel
        ]
        return others[:_MOST_NEIGHBOURS]

    def _counterpart(self, known: Known) -> float | None:
        """The same vessel's other value of the same kind on the record, or the other of a pair."""
        seen = known.seen
        wanted = _COUNTERPARTS.get(seen.part, seen.part)
        for key in self._beside.get((seen.record, wanted), ()):
            other = self._known[key]
            if key != seen.key and other.vessel == known.vessel:
                return other.seen.value
        return None


def decimals(typed: str) -> int:
    """How many decimals a figure was typed with."""
    _, point, after = typed.strip().replace(",", ".").partition(".")
    return len(after) if point else 0


def as_typed(value: float, typed: str) -> str:
    """A figure with as many decimals as the one that stood there."""
    return f"{value:.{decimals(typed)}f}"
