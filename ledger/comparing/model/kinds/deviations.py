"""A figure against its kind: what one operation showed beside what such operations usually show.

A slip on one cask is lost in the total of forty; beside its fill-mates it stands out. Some figures say what to expect
(a gauge, a gravity), with a spread of their own; the others learn it from the standing figures of the same name and
kind before them, and from those of the same fill. A comparison is silent while it has too little to go on, and says how
much that was.

The level. Deviations are normal deviates, and 4.5 is the level, that of the one model. A month of a small plant has
some 700 figures; on normal data 700 x 6.8e-6 = 0.005 of them pass it. Figures of real work have heavier tails, for
which this leaves a factor of four: about 0.02 false ones in a month.

It only reads, in at most four queries, however long the month.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from math import floor, hypot, log10
from typing import Final

from django.db.models import Q

from distillery import figures
from ledger.comparing.model.kinds.estimate import KindEstimate, estimate_kind
from ledger.comparing.observations.from_ledger import operations_in
from ledger.comparing.observations.sealed_rows import SealedRows
from ledger.comparing.observations.standing_figures import (
    StandingFigure,
    Uncertainties,
    earlier_of_kind,
    figures_in_order,
    in_order,
    standing_figures,
    uncertainties_of,
    uncertainties_of_rows,
)
from ledger.comparing.remembered import NOTHING, Remembered

LEVEL: Final = 4.5


@dataclass(frozen=True, slots=True)
class Deviation:
    """One figure beside its kind. `value`, `expected` and `spread` are in `unit`; `spread` is one standard deviation.

    `z` is how many normal standard deviations it lies off; it allows for the uncertainty of its own readings, and for
    how few others it may be compared with. `counted` is how many others say what is usual, 0 where another reading of
    the same operation or the site's usual figure does. `uncertainty` is the standard uncertainty of how far it lies
    off. `vessel` is the cask whose line it stands on, else ''.

    `is_reading`: the figure is the reading in `field` itself. `restates`: it says once more, in another unit, what the
    balance of its operation already says with the same readings.
    """

    record: str
    record_kind: str
    movement_id: int
    name: str
    like: str
    field: str
    vessel: str
    at: datetime
    unit: str
    value: float
    expected: float
    spread: float
    z: float
    counted: int
    uncertainty: float
    is_reading: bool = False
    restates: bool = False

    @property
    def is_outlier(self) -> bool:
        """Whether it lies beyond the level of a finding."""
        return abs(self.z) > LEVEL

    @property
    def basis(self) -> str:
        """What says what is usual."""
        if self.counted:
            return f"{self.counted} like it"
        return "the site's usual figure" if self.like else "another reading of the same work"

    @property
    def sentence(self) -> str:
        """What stands out, in one line."""
        whose = f" of cask {self.vessel}" if self.vessel else ""
        unit = f" {self.unit}" if self.unit else ""
        name = f"{self.name[:1].upper()}{self.name[1:]}"
        return f"{name}{whose} is {self.written(self.value)}{unit}, where {self.written(self.expected)} is usual."

    def written(self, value: float) -> str:
        """A figure of this kind with the decimals its spread makes worth writing."""
        return figures.number(value, max(1, min(4, -floor(log10(self.spread)))))


def deviations_in(
    period: str | None, rows: Sequence[SealedRows] | None = None, known: Remembered = NOTHING
) -> list[Deviation]:
    """Every figure of a period that can be compared, or of everything posted, in order of time.

    `rows` are its operations with what hangs on them, where they have been read.
    """
    if rows is None:
        of_operations = standing_figures().filter(movement__in=operations_in(period)) if period else standing_figures()
        return _deviations(_compared(figures_in_order(of_operations)))
    window = in_order((figure for one in rows for figure in one.figures), known)
    compared = list(_compared(window, known))
    records = {one.record for one, _ in compared}
    unsure = uncertainties_of_rows([one for one in rows if one.movement.record_number in records], known)
    return _deviations(compared, unsure)


def deviations_of(record_kind: str, record: str, known: Uncertainties | None = None) -> list[Deviation]:
    """The figures of one record that can be compared; `known` are the uncertainties of its readings, where read."""
    own = Q(movement__record_kind=record_kind, movement__record_number=record)
    return _deviations(_compared(figures_in_order(standing_figures().filter(own))), known)


def _compared(
    window: Sequence[StandingFigure], known: Remembered = NOTHING
) -> Iterator[tuple[StandingFigure, KindEstimate]]:
    earlier = earlier_of_kind(window)
    for _movement, group in groupby(window, key=lambda one: one.movement_id):
        together = list(group)
        mates: dict[tuple[str, str], list[float]] = defaultdict(list)
        for one in together:
            if one.like and one.beside:
                mates[one.kind].append(one.value)
        for one in together:
            usual = _usual(one, earlier[one.kind], mates[one.kind], known)
            if usual is not None:
                yield one, usual
        for one in together:
            if one.like:
                earlier[one.kind].append(one.value)


def _usual(
    one: StandingFigure, earlier: Iterable[float], together: Sequence[float], known: Remembered
) -> KindEstimate | None:
    if not one.like:
        return estimate_kind((), one.expected, one.spread)
    mates = list(together)
    if mates:
        mates.remove(one.value)
    others, expected, spread = (*earlier, *mates), one.expected, one.spread
    return known.part((KindEstimate, others, expected, spread), lambda: estimate_kind(others, expected, spread))


def _deviations(
    compared: Iterable[tuple[StandingFigure, KindEstimate]], known: Uncertainties | None = None
) -> list[Deviation]:
    found = list(compared)
    if known is None:
        known = uncertainties_of({one.record for one, _ in found})
    return [
        Deviation(
            record=one.record,
            record_kind=one.record_kind,
            movement_id=one.movement_id,
            name=one.name,
            like=one.like,
            field=one.field,
            vessel=one.vessel,
            at=one.at,
            unit=one.unit,
            value=one.value,
            expected=usual.expected,
            spread=usual.spread,
            z=usual.deviate(one.value, _uncertainty(one, known)),
            counted=usual.counted,
            uncertainty=hypot(usual.spread, _uncertainty(one, known)),
            is_reading=dict(one.parts) == {one.field: 1.0} or not (one.parts or _is_gauged(one, known)),
            restates=not one.parts and _is_gauged(one, known),
        )
        for one, usual in found
    ]


def _is_gauged(one: StandingFigure, known: Uncertainties) -> bool:
    """Whether the column a figure is about is a reading of one of its record's gauges."""
    return (one.record, one.vessel, one.field) in known or (one.record, "", one.field) in known


def _uncertainty(one: StandingFigure, known: Uncertainties) -> float:
    """What the readings of a figure leave unsure, in the figure's unit."""
    return hypot(
        *(
            moved * known.get((one.record, one.vessel, column), known.get((one.record, "", column), 0.0))
            for column, moved in one.parts.items()
        )
    )
