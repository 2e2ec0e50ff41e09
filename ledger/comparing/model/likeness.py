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

import json
from collections import defaultdict, deque
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby
from math import floor, hypot, log10
from typing import Any, Final

from django.db.models import F, Q, QuerySet, Window
from django.db.models.functions import Coalesce, RowNumber

from distillery import figures
from distillery.plant.models import MICRO
from ledger.comparing.statistics.kinds import Usual, usual_of
from ledger.models import Figure, Gauge, MeasuredFlow, MovementKind
from ledger.periods.reading import bounds

LEVEL: Final = 4.5
# Of earlier figures, the newest forty within thirteen months tell what is usual now.
MOST: Final = 40
REACH: Final = timedelta(days=400)
_AT: Final = Coalesce("movement__true_at", "movement__happened_at")
# By record, cask of the line (or '') and column: standard uncertainty of a reading, in its own unit.
Uncertainties = Mapping[tuple[str, str, str], float]


@dataclass(frozen=True, slots=True)
class Likeness:
    """One figure beside its kind. `value`, `expected` and `spread` are in `unit`; `spread` is one standard deviation.

    `z` is how many normal standard deviations it lies off, its own readings' uncertainty and the few figures it may
    rest on paid for. `counted` is how many others say what is usual, 0 where another reading of the same operation or
    the site's usual figure does. `vessel` is the cask whose line it stands on, else ''.

    `is_reading` says that the figure is the reading in `field` as it stands; `restates` that it says once more, in
    another unit, what the balance of its own operation says with the same readings.
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


@dataclass(frozen=True, slots=True)
class FigureRow:
    """A figure as one soft row of the model: `residual` (value less expected) should be about nothing.

    `spread` is what the row has of its own beside the readings in `parts`, which say by column of the record how far
    one unit of each reading moves the residual. On a sheet with repeating lines `vessel` says on which line (whose
    cask) those columns stand that repeat; columns of the sheet's head are there but once.
    """

    key: str
    movement_id: int
    record_kind: str
    record: str
    vessel: str
    at: datetime
    name: str
    field: str
    residual: float
    spread: float
    parts: Mapping[str, float]
    unit: str
    counted: int = 0


def likenesses(since: datetime, until: datetime) -> list[Likeness]:
    """Every figure of entries booked from `since` to before `until` that can be compared, in order of time."""
    return _likenesses(_compared(_booked(since, until)))


def likenesses_in(period: str | None) -> list[Likeness]:
    """Every figure of a period that can be compared, or of everything posted, in order of time."""
    if period is None:
        return _likenesses(_compared(_seen(_standing())))
    # What is carried over a close belongs where it truly happened.
    starts, ends = bounds(period)
    return _likenesses(_compared(_seen(_standing().annotate(at=_AT).filter(at__gte=starts, at__lt=ends))))


def likenesses_of(record_kind: str, record: str) -> list[Likeness]:
    """The figures of one record that can be compared."""
    own = Q(movement__record_kind=record_kind, movement__record_number=record)
    return _likenesses(_compared(_seen(_standing().filter(own))))


def likenesses_of_records(records: Collection[str]) -> list[Likeness]:
    """The figures of some records that can be compared."""
    return _likenesses(_compared(_seen(_standing().filter(movement__record_number__in=records))))


def outliers(since: datetime, until: datetime) -> list[Likeness]:
    """Those beyond the level of a finding, furthest first."""
    return sorted((one for one in likenesses(since, until) if one.is_outlier), key=lambda one: -abs(one.z))


def rows(since: datetime, until: datetime) -> list[FigureRow]:
    """The figures of entries booked from `since` to before `until` as rows of the one model, in order of time.

    Only those that hang on readings: a run's time, or bottles whose readings stand in their operation's own balance,
    would be rows that nothing explains, or the same row twice.
    """
    return [
        FigureRow(
            key=":".join(filter(None, ("likeness", one.record, one.name, one.vessel))),
            movement_id=one.movement_id,
            record_kind=one.record_kind,
            record=one.record,
            vessel=one.vessel,
            at=one.at,
            name=one.name,
            field=one.field,
            residual=one.value - usual.expected,
            spread=usual.row_spread,
            parts=one.parts,
            unit=one.unit,
            counted=usual.counted,
        )
        for one, usual in _compared(_booked(since, until))
        if one.parts
    ]


# -- each figure with what is usual for it


@dataclass(frozen=True, slots=True)
class _Seen:
    """A figure as it stands in the books."""

    movement_id: int
    record_kind: str
    record: str
    at: datetime
    name: str
    like: str
    beside: str
    field: str
    unit: str
    value: float
    expected: float | None
    spread: float | None
    parts: Mapping[str, float]
    vessel: str

    @property
    def kind(self) -> tuple[str, str]:
        """What it is compared with: figures of the same name and kind."""
        return self.name, self.like


def _compared(window: Sequence[_Seen]) -> Iterator[tuple[_Seen, Usual]]:
    earlier = _earlier(window)
    for _movement, group in groupby(window, key=lambda one: one.movement_id):
        together = list(group)
        mates: dict[tuple[str, str], list[float]] = defaultdict(list)
        for one in together:
            if one.like and one.beside:
                mates[one.kind].append(one.value)
        for one in together:
            usual = _usual(one, earlier[one.kind], mates[one.kind])
            if usual is not None:
                yield one, usual
        for one in together:
            if one.like:
                earlier[one.kind].append(one.value)


def _usual(one: _Seen, earlier: Iterable[float], together: Sequence[float]) -> Usual | None:
    if not one.like:
        return usual_of((), one.expected, one.spread)
    mates = list(together)
    if mates:
        mates.remove(one.value)
    return usual_of([*earlier, *mates], one.expected, one.spread)


def _likenesses(compared: Iterable[tuple[_Seen, Usual]]) -> list[Likeness]:
    found = list(compared)
    known = _uncertainties({one.record for one, _ in found})
    return [
        Likeness(
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
            is_reading=dict(one.parts) == {one.field: 1.0} or not (one.parts or _is_gauged(one, known)),
            restates=not one.parts and _is_gauged(one, known),
        )
        for one, usual in found
    ]


def _is_gauged(one: _Seen, known: Uncertainties) -> bool:
    """Whether the column a figure is about is a reading of one of its record's gauges."""
    return (one.record, one.vessel, one.field) in known or (one.record, "", one.field) in known


def _uncertainty(one: _Seen, known: Uncertainties) -> float:
    """What the readings of a figure leave unsure, in the figure's unit."""
    return hypot(
        *(
            moved * known.get((one.record, one.vessel, column), known.get((one.record, "", column), 0.0))
            for column, moved in one.parts.items()
        )
    )


# -- what is read


def _standing() -> QuerySet[Figure]:
    return Figure.objects.standing().filter(movement__kind=MovementKind.OPERATION)


def _booked(since: datetime, until: datetime) -> list[_Seen]:
    return _seen(_standing().filter(movement__happened_at__gte=since, movement__happened_at__lt=until))


def _seen(rows: QuerySet[Figure]) -> list[_Seen]:
    found = rows.annotate(at=_AT).order_by("at", "movement__slot", "movement_id", "line")
    return [
        _Seen(
            movement_id,
            record_kind,
            record,
            at,
            name,
            like,
            beside,
            field,
            unit,
            value / MICRO,
            None if expected is None else expected / MICRO,
            None if spread is None else spread / MICRO,
            *_parts(parts),
        )
        for (
            movement_id,
            record_kind,
            record,
            at,
            name,
            like,
            beside,
            field,
            unit,
            value,
            expected,
            spread,
            parts,
        ) in found.values_list(
            "movement_id",
            "movement__record_kind",
            "movement__record_number",
            "at",
            "name",
            "like",
            "beside",
            "field",
            "unit",
            "value_millionths",
            "expected_millionths",
            "spread_millionths",
            "parts",
        )
    ]


def _parts(text: str) -> tuple[dict[str, float], str]:
    """Sensitivities by column, and the cask of the line where they are named with one (`gross_kg@2027/0001`)."""
    parts: dict[str, float] = {}
    vessel = ""
    for key, moved in json.loads(text).items():
        column, _, line = key.partition("@")
        parts[column] = moved
        vessel = vessel or line
    return parts, vessel


def _earlier(window: Sequence[_Seen]) -> dict[tuple[str, str], deque[float]]:
    """The newest figures of each kind before the window, oldest first."""
    earlier: dict[tuple[str, str], deque[float]] = defaultdict(lambda: deque(maxlen=MOST))
    learning = [one for one in window if one.like]
    if not learning:
        return earlier
    first = min(one.at for one in learning)
    before = (
        _standing()
        .annotate(at=_AT)
        .filter(
            at__lt=first,
            at__gte=first - REACH,
            name__in={one.name for one in learning},
            like__in={one.like for one in learning},
        )
        .annotate(
            newest=Window(
                RowNumber(),
                partition_by=[F("name"), F("like")],
                order_by=[F("at").desc(), F("movement__slot").desc(), F("line").desc()],
            )
        )
        .filter(newest__lte=MOST)
        .order_by("-newest")
    )
    for name, like, value in before.values_list("name", "like", "value_millionths"):
        earlier[name, like].append(value / MICRO)
    return earlier


def _uncertainties(records: Collection[str]) -> Uncertainties:
    known: dict[tuple[str, str, str], float] = {}
    if not records:
        return known
    of_these = Q(movement__record_number__in=records)
    for record, chain in Gauge.objects.standing().filter(of_these).values_list("movement__record_number", "chain"):
        for reading in _readings(chain):
            known[record, "", reading["column"]] = reading["u"]
    for record, taker, chain in (
        MeasuredFlow.objects.standing().filter(of_these).values_list("movement__record_number", "taker__code", "chain")
    ):
        for reading in _readings(chain):
            for place in ("", taker.removeprefix("vessel:")):
                known[record, place, reading["column"]] = reading["u"]
    return known


def _readings(chain: str) -> list[dict[str, Any]]:
    """The readings of a gauge that stand on its own record."""
    return [one for one in json.loads(chain or '{"readings":[]}')["readings"] if one["column"] and not one["of"]]
