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

from batches.distilling.changeovers import ProductEnd, product_ends
from batches.distilling.periods import Period, StillRun, runs_before
from batches.distilling.together import MashLine, RunLine, Together, receivers
from batches.sheets.site import Site
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.clock.reading import site_day
from distillery.plant.models import MICRO, Kind, Stage, Vessel
from distillery.process.recycling import yield_efficiency_percent, yield_lpa_per_tonne
from distillery.rules.in_force import usual_figure
from ledger.models import Account, Gauge
from ledger.statements.balances import books_before

JUST_AFTER = timedelta(microseconds=1)
CHARGES = "charges until a yield is judged"
CHANGE = "change of cut"
# How far back a change of cut is looked for.
LOOKED_BACK = 40


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


def yields_of(periods: Sequence[Period], site: Site) -> list[Yield]:
    """What several periods came to: what they are worked out from is read for all of them together."""
    together = Together(periods, site)
    return [Yield(period, site, together) for period in periods]


class Yield:
    """What one period came to; each part is worked out when it is asked for."""

    def __init__(self, period: Period, site: Site, together: Together | None = None) -> None:
        self.period = period
        self._site = site
        self._together = together or Together([period], site)

    @cached_property
    def product_ends(self) -> list[ProductEnd]:
        """The changeovers of its stills within it."""
        return product_ends(self.period, [line.run for line in self.runs], self._site)

    @cached_property
    def runs(self) -> list[RunLine]:
        """Its runs in the order they were charged."""
        return self._together.runs_of(self.period)

    @cached_property
    def mashes(self) -> list[MashLine]:
        """Its mashes in the order their wash was first charged."""
        return self._together.mashes_of(self.runs)

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
        held = books_before(others, before)
        by_book = sum(pure_ul for pk, pure_ul in held.items() if gauge is None or pk != gauge.account_id)
        return by_book + (gauge.pure_ul if gauge is not None else 0)

    @cached_property
    def _named(self) -> Vessel | None:
        return Vessel.objects.filter(code=self.period.typed.get("feints_receiver", "")).first()

    @property
    def _own_gauges(self) -> dict[str, Gauge]:
        return self._together.own_gauges.get(self.period.number, {})

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
        ran_into = {code for line in self.runs if line.run.makes_spirit for code in receivers(line.run)}
        of_runs = (
            Gauge.objects.standing()
            .filter(movement__record_number__in=numbers, account__vessel__code__in=ran_into)
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
