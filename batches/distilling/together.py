"""What several distillation periods are worked out from, read together: their runs, the mashes of their wash, their own
gauges. A few questions however many periods there are.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from django.db.models import Sum

from batches.distilling.mashes import by_mass_of, malt_issued, promised_by_lot
from batches.distilling.periods import Period, StillRun, runs_between
from batches.distilling.promised import predicted_yield
from batches.models import Record
from batches.sheets.materials.drawn import by_mass, issued_to
from batches.sheets.site import Site
from distillery.plant.models import Kind
from ledger.models import Entry, Gauge, Leg


@dataclass(frozen=True, slots=True)
class MashLine:
    """A mash of a period: its malt and what that promised, the wash declared of it, and how much was charged here."""

    mash: Record
    wash: Record
    malt_kilograms: float
    predicted: float | None
    declared_ul: int
    charged_ul: int

    @property
    def share(self) -> float:
        """The share of its wash that was charged in the period, 0 to 1."""
        return min(1.0, self.charged_ul / self.declared_ul) if self.declared_ul > 0 else 0.0

    @property
    def malt_here(self) -> float:
        """Kilograms of its malt that count here."""
        return self.malt_kilograms * self.share

    @property
    def wash_per_tonne(self) -> float | None:
        """Its wash, LPA a tonne of malt; before any loss at the stills."""
        return self.declared_ul / 1000.0 / self.malt_kilograms if self.malt_kilograms else None

    @property
    def efficiency(self) -> float | None:
        """That as % of what its malt promised."""
        return 100.0 * self.wash_per_tonne / self.predicted if self.predicted and self.wash_per_tonne else None


@dataclass(frozen=True, slots=True)
class RunLine:
    """A run of a period: what it was charged with, what spirit it made, and what all its receivers took together,
    microlitres of pure alcohol.
    """

    run: StillRun
    charged_ul: int
    made_ul: int
    recovered_ul: int = 0


class Together:
    """What these periods are worked out from; each part is read when it is asked for."""

    def __init__(self, periods: Sequence[Period], site: Site) -> None:
        self._periods = periods
        self._site = site

    def runs_of(self, period: Period) -> list[RunLine]:
        """The runs of one of the periods, in the order they were charged."""
        return [line for line in self._runs[period.spirits] if period.holds(line.run.charged_at)]

    @cached_property
    def _runs(self) -> dict[str, list[RunLine]]:
        """The runs of each class of spirits over all periods. Two queries for each class, and two for all."""
        runs: dict[str, list[StillRun]] = {}
        for spirits in {one.spirits for one in self._periods}:
            own = [one for one in self._periods if one.spirits == spirits]
            ends = [one.ended_at for one in own if one.ended_at is not None]
            until = max(ends) if len(ends) == len(own) else None
            runs[spirits] = runs_between(spirits, min(one.opened_at for one in own), until)
        every = [run for of_class in runs.values() for run in of_class]
        charged, taken = _charged(every), _taken(every)
        return {spirits: [_line(run, charged, taken) for run in of_class] for spirits, of_class in runs.items()}

    @cached_property
    def own_gauges(self) -> dict[str, dict[str, Gauge]]:
        """The gauges of the periods' own records, by number and name. One query."""
        found: dict[str, dict[str, Gauge]] = defaultdict(dict)
        numbers = [one.number for one in self._periods]
        for gauge in Gauge.objects.standing().filter(movement__record_number__in=numbers).select_related("movement"):
            found[gauge.movement.record_number][gauge.name] = gauge
        return found

    def mashes_of(self, runs: Iterable[RunLine]) -> list[MashLine]:
        """The mashes whose wash these runs were charged with, in the order it was first charged."""
        charged: dict[str, int] = {}
        for line in runs:
            if line.run.wash_of:
                charged[line.run.wash_of] = charged.get(line.run.wash_of, 0) + line.charged_ul
        lines = (self._mashes.line(number, charged_ul) for number, charged_ul in charged.items())
        return [line for line in lines if line is not None]

    @cached_property
    def _mashes(self) -> _Mashes:
        numbers = {line.run.wash_of for lines in self._runs.values() for line in lines if line.run.wash_of}
        return _Mashes(sorted(numbers), self._site)


class _Mashes:
    """The washes of these numbers with their mashes, read together. Eight queries."""

    def __init__(self, numbers: Sequence[str], site: Site) -> None:
        self._site = site
        self._declared = _declared(numbers)
        self._washes = {one.number: one for one in Record.objects.filter(number__in=numbers)}
        site.read_typed(self._washes.values())
        self._named = {number: site.told_text(wash, "mash") for number, wash in self._washes.items()}
        mashes = Record.objects.filter(number__in=set(self._named.values()))
        self._mashes = {one.number: one for one in mashes}
        site.read_typed(self._mashes.values())
        self._issued = malt_issued(list(self._mashes.values()))
        self._promised = promised_by_lot({code for drawn in self._issued.values() for code in drawn})

    def line(self, number: str, charged_ul: int) -> MashLine | None:
        """The mash of a wash, of which so much was charged; None where the wash names none."""
        wash, mash = self._washes.get(number), self._mashes.get(self._named.get(number, ""))
        if wash is None or mash is None:
            return None
        by_lot = self._issued.get(mash.pk, {})
        promised = by_mass_of(by_lot, self._promised) if by_lot else self._as_named(mash)
        kilograms = self._site.told_number(mash, "grist_kg") or 0.0
        return MashLine(mash, wash, kilograms, promised, self._declared.get(number, 0), charged_ul)

    def _as_named(self, mash: Record) -> float | None:
        """What the malt of a mash promised that is in no stores, by the lot that it names."""
        return by_mass(issued_to(self._site, mash, "malt_lot"), lambda lot: predicted_yield(self._site, lot))


def _line(run: StillRun, charged: dict[str, int], taken: dict[str, dict[str, int]]) -> RunLine:
    by_vessel = taken.get(run.record.number, {})
    made = sum(by_vessel.get(code, 0) for code in receivers(run)) if run.makes_spirit else 0
    return RunLine(run, charged.get(run.record.number, 0), made, sum(by_vessel.values()))


def receivers(run: StillRun) -> set[str]:
    """The vessels its spirit ran into: the one it began with, and one that took its place."""
    name = run.distils.spirit
    return {code for code in (run.typed.get(name, ""), run.typed.get(f"next_{name}", "")) if code}


def _taken(runs: Sequence[StillRun]) -> dict[str, dict[str, int]]:
    """What each vessel but the still took during each run, by number and code. One query."""
    legs = (
        Leg.objects.standing()
        .filter(movement__record_number__in=[run.record.number for run in runs], account__vessel__isnull=False)
        .exclude(account__vessel__kind=Kind.STILL)
        .exclude(entry=Entry.GAUGING)
        .values_list("movement__record_number", "account__vessel__code", "pure_ul")
    )
    taken: dict[str, dict[str, int]] = {}
    for number, code, pure_ul in legs:
        if pure_ul > 0:
            by_vessel = taken.setdefault(number, {})
            by_vessel[code] = by_vessel.get(code, 0) + pure_ul
    return taken


def _charged(runs: Sequence[StillRun]) -> dict[str, int]:
    """What went into the still of each run, by its number. One query."""
    legs = Leg.objects.standing().filter(
        movement__record_number__in=[run.record.number for run in runs],
        account__vessel__kind=Kind.STILL,
        # What a run gave more than it was charged with stands on its still as a difference.
        entry=Entry.FLOW,
        pure_ul__gt=0,
    )
    return dict(legs.values_list("movement__record_number").annotate(Sum("pure_ul")))


def _declared(numbers: Sequence[str]) -> dict[str, int]:
    """The wash declared by each of these records, by its number. One query."""
    gauges = Gauge.objects.standing().filter(movement__record_number__in=numbers)
    return dict(gauges.values_list("movement__record_number", "pure_ul"))
