"""Proves one stretch of the chain of movements: numbers, seals, sums of legs. Read once, a batch at a time.

A stretch begins from the seal that is kept of the movement before it, which the stretch before it proves. So stretches
can be proved apart, and what they come to is put together in order.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from hashlib import sha256

from ledger.models import Movement
from ledger.proof.chain import batches, script
from ledger.proof.parts.running import Runs
from ledger.proof.parts.sums import Sums
from ledger.proof.sealed_columns import PARTS, Row
from ledger.proof.sealing import FIRST_SEAL


@dataclass(slots=True)
class Stretch:
    """What a stretch of the chain came to. `number` and `seal` are those of its last movement."""

    number: int
    seal: str
    sums: Sums
    runs: Runs = field(default_factory=Runs)
    counts: list[int] = field(default_factory=lambda: [0] * len(PARTS))
    broken: list[str] = field(default_factory=list)

    def take(self, later: Stretch) -> None:
        """Puts the stretch that follows behind this one."""
        self.number, self.seal = later.number, later.seal
        self.sums.take(later.sums)
        self.runs.take(later.runs)
        self.counts = [one + other for one, other in zip(self.counts, later.counts, strict=True)]
        self.broken += later.broken


def prove_stretch(first: int = 1, last: int | None = None, *, since: str = "") -> Stretch:
    """The movements from one number to another, or to the end. Sums leave out the periods up to `since`."""
    before = Movement.objects.filter(pk__lt=first).order_by("-pk").values_list("pk", "seal").first()
    number, previous = before or (0, FIRST_SEAL)
    stretch = Stretch(number, previous, Sums(since))
    broken, runs, line_of, add = stretch.broken, stretch.runs, script().line, stretch.sums.add
    expected = number + 1
    for movements, found in batches(first, last):
        there = {row[0] for row in movements}
        parts = [_by_movement(rows) for rows in found]
        for at, (rows, own) in enumerate(zip(found, parts, strict=True)):
            # Rows that belong to no movement are left out here; the proof counts them.
            known = own.keys() <= there
            stretch.counts[at] += len(rows) if known else sum(len(own[one]) for one in own.keys() & there)
        all_legs, gauges, measures, figures, duties = parts
        for row in movements:
            number = row[0]
            legs = all_legs.get(number, ())
            if number != expected:
                broken.append(f"{_place(row)}: number {expected} is missing from the chain")
                expected = number
            try:
                balanced = add(row, legs) == (0, 0)
                runs.add(legs, since)
            except TypeError:
                balanced = False
                runs.apart.update(leg[3] for leg in legs)
            if not balanced:
                broken.append(f"{_place(row)}: its legs do not sum to nothing")
            if row[-2] != previous:
                broken.append(f"{_place(row)}: it does not follow the seal of the movement before it")
            try:
                line = line_of(
                    row,
                    legs,
                    gauges.get(number, ()),
                    measures.get(number, ()),
                    figures.get(number, ()),
                    duties.get(number, ()),
                )
            except (KeyError, ValueError, TypeError) as missing:
                broken.append(f"{_place(row)}: it names what is not there ({missing})")
            else:
                if sha256(f"{previous}\n{line}".encode()).hexdigest() != row[-1]:
                    broken.append(f"{_place(row)}: its content does not give its seal")
            previous = row[-1]
            expected += 1
    stretch.number, stretch.seal = expected - 1, previous
    return stretch


def _by_movement(rows: Sequence[Row]) -> dict[int, list[Row]]:
    found: dict[int, list[Row]] = defaultdict(list)
    for row in rows:
        found[row[0]].append(row)
    return found


def _place(movement: Row) -> str:
    return f"movement {movement[0]} ({movement[8]} {movement[9]})"
