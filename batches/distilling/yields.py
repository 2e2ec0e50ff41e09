"""What a distillation period made of its malt: spirit, the change of its feints, yield beside what the malt promised.

Pure alcohol in microlitres, malt in kilograms. A mash counts with the share of its wash that was charged in the period.
Sums are those of `distillery.process.recycling`. Uncertainty: every gauge by its own, taken as independent (JCGM
100:2008 section 5.1), so a lasting error of an instrument is not in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from math import sqrt

from django.db.models import Sum

from batches.distilling.changeovers import ProductEnd, product_ends
from batches.distilling.mashes import by_mass_of, malt_issued, promised_by_lot
from batches.distilling.periods import Period, StillRun, runs_before, runs_in
from batches.distilling.promised import predicted_yield
from batches.models import Record
from batches.sheets.materials.drawn import by_mass, issued_to
from batches.sheets.site import Site
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.clock.reading import site_day
from distillery.plant.models import MICRO, Kind, Stage, Vessel
from distillery.process.recycling import yield_efficiency_percent, yield_lpa_per_tonne
from distillery.rules.in_force import usual_figure
from ledger.models import Account, Entry, Gauge, Leg
from ledger.statements.balances import holdings

JUST_AFTER = timedelta(microseconds=1)
CHARGES = "charges until a yield is judged"
CHANGE = "change of cut"
# How far back a change of cut is looked for.
LOOKED_BACK = 40


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


@dataclass(frozen=True, slots=True)
class Settling:
    """Whether a period is judged: how many charges since the last change of cut (or the first on record), and need."""

    charges: int
    needed: int
    since: str

    @property
    def judged(self) -> bool:
        """True where enough charges have come since."""
        return self.charges >= self.needed


class Yield:
    """What one period came to; each part is worked out when it is asked for."""

    def __init__(self, period: Period, site: Site) -> None:
        self.period = period
        self._site = site

    @cached_property
    def product_ends(self) -> list[ProductEnd]:
        """The changeovers of its stills within it."""
        return product_ends(self.period, [line.run for line in self.runs], self._site)

    @cached_property
    def runs(self) -> list[RunLine]:
        """Its runs in the order they were charged. Four queries."""
        runs = runs_in(self.period)
        charged, taken = _charged(runs), _taken(runs)
        found = []
        for run in runs:
            by_vessel = taken.get(run.record.number, {})
            made = sum(by_vessel.get(code, 0) for code in _receivers(run)) if run.makes_spirit else 0
            found.append(RunLine(run, charged.get(run.record.number, 0), made, sum(by_vessel.values())))
        return found

    @cached_property
    def mashes(self) -> list[MashLine]:
        """Its mashes in the order their wash was first charged."""
        found: dict[str, int] = {}
        for line in self.runs:
            if line.run.wash_of:
                found[line.run.wash_of] = found.get(line.run.wash_of, 0) + line.charged_ul
        declared = _declared(list(found))
        washes = {one.number: one for one in Record.objects.filter(number__in=found)}
        # What stands on all of them is read together; what follows asks for one mash after the other.
        self._site.read_typed(washes.values())
        named = {number: self._site.told_text(wash, "mash") for number, wash in washes.items()}
        mashes = {one.number: one for one in Record.objects.filter(number__in=set(named.values()))}
        self._site.read_typed(mashes.values())
        issued = malt_issued(list(mashes.values()))
        promised = promised_by_lot({code for drawn in issued.values() for code in drawn})
        lines = []
        for number, charged in found.items():
            wash, mash = washes.get(number), mashes.get(named.get(number, ""))
            if wash is not None and mash is not None:
                by_lot = issued.get(mash.pk, {})
                of_malt = by_mass_of(by_lot, promised) if by_lot else self._as_named(mash)
                kilograms = self._site.told_number(mash, "grist_kg") or 0.0
                lines.append(MashLine(mash, wash, kilograms, of_malt, declared.get(number, 0), charged))
        return lines

    def _as_named(self, mash: Record) -> float | None:
        """What the malt of a mash promised that is in no stores, by the lot that it names."""
        return by_mass(issued_to(self._site, mash, "malt_lot"), lambda lot: predicted_yield(self._site, lot))

    @property
    def malt_kilograms(self) -> float:
        """Malt of the wash that was charged in it."""
        return sum(line.malt_here for line in self.mashes)

    @property
    def wash_charged_ul(self) -> int:
        """Pure alcohol of that wash."""
        return sum(line.charged_ul for line in self.mashes)

    @property
    def made_ul(self) -> int:
        """Spirit made: the spirits accounts of its runs."""
        return sum(line.made_ul for line in self.runs)

    @cached_property
    def feints_open_ul(self) -> int:
        """Low wines and feints when it was opened: the gauge of its record, the other vessels by their book."""
        return self._stock(self.period.record.happened_from, "open", self.period.opened_at)

    @cached_property
    def feints_close_ul(self) -> int:
        """The same at its end, or now while it is open."""
        at = self.period.until + JUST_AFTER
        return self._stock(self.period.ended_at, "close", at)

    def _stock(self, gauged_at: datetime | None, name: str, before: datetime) -> int:
        gauge = self._own_gauges.get(f"feints_{name}") if gauged_at is not None else None
        others = Account.objects.filter(vessel__stage=Stage.LOW_WINES).exclude(vessel__kind=Kind.STILL)
        if self._named is not None and self._named.stage != Stage.LOW_WINES:
            # What is kept back beside finished spirit stands in the vessel that the record names.
            others = Account.objects.filter(vessel=self._named)
        held = holdings(others, before=before)
        by_book = sum(one.pure_ul for one in held if gauge is None or one.account.pk != gauge.account_id)
        return by_book + (gauge.pure_ul if gauge is not None else 0)

    @cached_property
    def _named(self) -> Vessel | None:
        return Vessel.objects.filter(code=self.period.typed.get("feints_receiver", "")).first()

    @cached_property
    def _own_gauges(self) -> dict[str, Gauge]:
        gauges = Gauge.objects.standing().filter(movement__record_number=self.period.record.number)
        return {one.name: one for one in gauges}

    @property
    def predicted(self) -> float | None:
        """What the malt promised, LPA a tonne, by mass; None where it is not known of all of it."""
        if not self.mashes or any(line.predicted is None for line in self.mashes) or not self.malt_kilograms:
            return None
        return sum((line.predicted or 0.0) * line.malt_here for line in self.mashes) / self.malt_kilograms

    @property
    def lpa_per_tonne(self) -> float | None:
        """Yield with the change of feints, LPA a tonne; None without malt."""
        try:
            return yield_lpa_per_tonne(
                spirit_lpa=max(0, self.made_ul) / MICRO,
                feints_open_lpa=max(0, self.feints_open_ul) / MICRO,
                feints_close_lpa=max(0, self.feints_close_ul) / MICRO,
                malt_kilograms=self.malt_kilograms,
            )
        except AlcoholometryError:
            return None

    @property
    def efficiency(self) -> float | None:
        """Yield as % of what the malt promised."""
        if self.lpa_per_tonne is None or self.predicted is None:
            return None
        return yield_efficiency_percent(yield_lpa_per_tonne=self.lpa_per_tonne, predicted_lpa_per_tonne=self.predicted)

    @cached_property
    def u95_lpa_per_tonne(self) -> float | None:
        """How sure the yield is, LPA a tonne, two standard uncertainties; None without malt."""
        if not self.malt_kilograms:
            return None
        numbers = [line.run.record.number for line in self.runs if line.run.makes_spirit]
        receivers = {code for line in self.runs if line.run.makes_spirit for code in _receivers(line.run)}
        of_runs = (
            Gauge.objects.standing()
            .filter(movement__record_number__in=numbers, account__vessel__code__in=receivers)
            .values_list("uncertainty_ul", flat=True)
        )
        own = [one.uncertainty_ul for one in self._own_gauges.values()]
        squares = sum(one * one for one in [*of_runs, *own])
        return 2.0 * sqrt(squares) / 1000.0 / self.malt_kilograms

    @cached_property
    def settling(self) -> Settling:
        """How many charges of the period's stills have come since the plan of the cut last moved."""
        day = site_day(self.period.until)
        needed, change = _figure(CHARGES, day), _figure(CHANGE, day)
        runs = [run for run in runs_before(self.period, LOOKED_BACK) if run.makes_spirit]
        charges = 0
        for later, earlier in zip(runs, [*runs[1:], None], strict=False):
            charges += 1
            if earlier is not None and _moved(earlier, later, change):
                return Settling(charges, int(needed), f"change of cut with {later.record.number}")
        return Settling(charges, int(needed), "first charge on record")


def _moved(earlier: StillRun, later: StillRun, change: float) -> bool:
    for name in ("plan_on_percent", "plan_off_percent"):
        before, after = earlier.number_in(name), later.number_in(name)
        if before is not None and after is not None and abs(after - before) > change:
            return True
    return False


def _figure(name: str, day: date) -> float:
    row = usual_figure(name, day)
    return 0.0 if row is None or row.expected_millionths is None else row.expected_millionths / MICRO


def _receivers(run: StillRun) -> set[str]:
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
