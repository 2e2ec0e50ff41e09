"""Sums of a bottling line: what is in a bottle, whether packages keep the packers' rules, where the alcohol went.

Packages are judged as a batch by the average system (Weights and Measures (Packaged Goods) Regulations 2006, SI
2006/659; Directive 76/211/EEC, Annex I, 2.4): the mean is at least the nominal quantity, few are below it by more than
the tolerable negative error (T1), none by more than twice that (T2). The errors and the share that is 'few' are dated
data of the site and are handed in. Units stand in the names; millilitres are at 20 °C, LPA are litres of pure alcohol
at 20 °C. Refusals are those of `distillery.alcoholometry.errors`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import fsum
from typing import Final

from distillery.alcoholometry.errors import (
    CannotReach,
    OutOfRange,
    OutsideTable,
    require_finite,
    require_not_negative,
    require_percent,
)
from distillery.alcoholometry.rounding import TOLERABLE_NEGATIVE_ERROR
from distillery.alcoholometry.weighing import litres20_of_weighed_kg

GRAMS_A_KILOGRAM: Final = 1000.0
MILLILITRES_A_LITRE: Final = 1000.0
# What a strength on a label may be written in (Regulation (EU) 1169/2011, Annex XII, as assimilated: one decimal).
LABEL_DECIMALS: Final = 1
# Figures as they are typed are exact; their difference in binary may exceed a limit in the last digit.
NEXT_TO_NOTHING: Final = 1e-9


@dataclass(frozen=True, slots=True)
class ErrorBand:
    """Tolerable negative error of nominal quantities from `from_ml` to `to_ml` (None: without end), in % of the nominal
    or in millilitres.
    """

    from_ml: float
    to_ml: float | None
    percent: float | None = None
    millilitres: float | None = None
    source: str = ""

    def holds(self, nominal_ml: float) -> bool:
        """True of a nominal quantity that lies in the band, its edges included."""
        return self.from_ml <= nominal_ml and (self.to_ml is None or nominal_ml <= self.to_ml)


@dataclass(frozen=True, slots=True)
class Limits:
    """What a package of a nominal quantity is held to, millilitres: T1 and T2."""

    nominal_ml: float
    error_ml: float
    source: str = ""

    @property
    def t1_ml(self) -> float:
        """Nominal less the tolerable negative error: few may be below it."""
        return self.nominal_ml - self.error_ml

    @property
    def t2_ml(self) -> float:
        """Nominal less twice that: none may be below it."""
        return self.nominal_ml - 2.0 * self.error_ml


def limits(nominal_ml: float, bands: Iterable[ErrorBand]) -> Limits:
    """Tolerable negative error, T1 and T2 of a nominal quantity above 0 mL: 700 has 15, 685 and 670.

    A quantity at the edge of two bands takes the first; both give the same. An error in percent is rounded up to the
    next tenth of a millilitre. Raises OutsideTable where no band holds.
    """
    nominal = require_finite(nominal_ml, "Nominal quantity")
    for band in bands:
        if band.holds(nominal):
            if band.millilitres is not None:
                return Limits(nominal, band.millilitres, band.source)
            share = Decimal(repr(nominal)) * Decimal(repr(band.percent or 0.0)) / 100
            return Limits(nominal, float(TOLERABLE_NEGATIVE_ERROR.apply(share)), band.source)
    raise OutsideTable(f"No tolerable negative error is known for {nominal:g} mL: enter one with its source.")


def millilitres_of_grams(net_grams: float, *, percent20: float) -> float:
    """What is in a bottle by its net weight in air, mL at 20 °C, at its strength in % vol: 661.3 g at 40 is 697.5.

    `net_grams` 0 or above. Raises NegativeQuantity, OutOfRange, NotANumber.
    """
    litres = litres20_of_weighed_kg(
        kilograms_in_air=require_not_negative(net_grams, "Net weight") / GRAMS_A_KILOGRAM, percent20=percent20
    )
    return MILLILITRES_A_LITRE * litres


@dataclass(frozen=True, slots=True)
class Packages:
    """Packages that were measured against the packers' rules: how many, their mean, how many below T1 and below T2."""

    limits: Limits
    number: int
    mean_ml: float
    below_t1: int
    below_t2: int
    few_percent: float

    @property
    def below_t1_percent(self) -> float:
        """How many of those measured are below T1, %."""
        return 100.0 * self.below_t1 / self.number

    @property
    def mean_keeps(self) -> bool:
        """First rule: the mean is at least the nominal quantity."""
        return self.mean_ml >= self.limits.nominal_ml - NEXT_TO_NOTHING

    @property
    def few_below_t1(self) -> bool:
        """Second rule: few are below T1."""
        return self.below_t1_percent <= self.few_percent + NEXT_TO_NOTHING

    @property
    def none_below_t2(self) -> bool:
        """Third rule: none is below T2."""
        return self.below_t2 == 0

    @property
    def keeps_all(self) -> bool:
        """True where all three rules are kept."""
        return self.mean_keeps and self.few_below_t1 and self.none_below_t2


def packages(fills_ml: Sequence[float], held_to: Limits, *, few_percent: float) -> Packages:
    """The contents of the packages measured, mL each, against the three packers' rules.

    668 mL in a bottle of 700 is below T2 of 670. `few_percent` is the share that may be below T1, 0 to 100. Raises
    CannotReach for none, NegativeQuantity, OutOfRange.
    """
    if not fills_ml:
        raise CannotReach("No package was measured: write at least one fill.")
    fills = [require_not_negative(one, "Fill") for one in fills_ml]
    return Packages(
        limits=held_to,
        number=len(fills),
        mean_ml=fsum(fills) / len(fills),
        below_t1=sum(one < held_to.t1_ml - NEXT_TO_NOTHING for one in fills),
        below_t2=sum(one < held_to.t2_ml - NEXT_TO_NOTHING for one in fills),
        few_percent=require_percent(few_percent, "Share below T1"),
    )


def within_label(*, declared_percent: float, measured_percent: float, tolerance_percent: float) -> bool:
    """True where a strength measured, % vol, lies within so much of the label's on either side, its edge included.

    46.35 beside 46.0 is outside 0.3. Raises OutOfRange, NegativeQuantity.
    """
    declared = require_percent(declared_percent, "Strength on the label")
    measured = require_percent(measured_percent, "Strength measured")
    return abs(measured - declared) <= require_not_negative(tolerance_percent, "Tolerance") + NEXT_TO_NOTHING


def label_in_decimals(declared_percent: Decimal) -> bool:
    """True of a strength with at most one decimal: 41.4, and 41.40 written out."""
    return declared_percent == round(declared_percent, LABEL_DECIMALS)


def label_lpa(*, bottles: int, centilitres: float, label_percent: float) -> float:
    """What so many bottles hold by their label, LPA: six of 70 cl at 46 are 1.932.

    Raises NegativeQuantity, OutOfRange.
    """
    number = require_not_negative(float(bottles), "Bottles")
    litres = require_not_negative(centilitres, "Bottle") / 100.0
    return number * litres * require_percent(label_percent, "Strength on the label") / 100.0


def overfill_lpa(*, millilitres_each: float, bottles: int, percent20: float) -> float:
    """Alcohol given away where each bottle holds so much more than its label, LPA: 2 mL in 5,000 at 46 are 4.6.

    Below nothing where the bottles hold less. Raises OutOfRange, NotANumber, NegativeQuantity.
    """
    over = require_finite(millilitres_each, "Overfill") * require_not_negative(float(bottles), "Bottles")
    return over / MILLILITRES_A_LITRE * require_percent(percent20, "Strength") / 100.0


@dataclass(frozen=True, slots=True)
class OnTheLine:
    """Where the alcohol that was drawn for a bottling went, LPA: `line loss = drawn − out − returns − samples`."""

    drawn_lpa: float
    out_lpa: float
    returned_lpa: float = 0.0
    samples_lpa: float = 0.0

    @property
    def lost_lpa(self) -> float:
        """What is left over; below nothing where more came out than went in."""
        return self.drawn_lpa - self.out_lpa - self.returned_lpa - self.samples_lpa

    @property
    def lost_percent(self) -> float:
        """The same in % of what was drawn and not returned. Raises CannotReach where that is nothing."""
        kept = self.drawn_lpa - self.returned_lpa
        if kept <= 0.0:
            raise CannotReach("Nothing was drawn from the vat, so no share of it is lost: check its two gauges.")
        return 100.0 * self.lost_lpa / kept


@dataclass(frozen=True, slots=True)
class Cased:
    """Bottles in cases: full cases, and the bottles that fill no case."""

    cases: int
    loose: int


def cased(*, bottles: int, bottles_a_case: int) -> Cased:
    """So many bottles, so many to a case, 1 or more: 1,200 are 200 cases of 6. Raises OutOfRange, NegativeQuantity."""
    if bottles_a_case < 1:
        raise OutOfRange(f"A case of {bottles_a_case} bottles holds nothing: enter 1 or more.")
    full, loose = divmod(int(require_not_negative(float(bottles), "Bottles")), bottles_a_case)
    return Cased(full, loose)


@dataclass(frozen=True, slots=True)
class SizeRule:
    """What holds of nominal quantities from `from_ml` to `to_ml` (None: without end).

    `permitted`: this one size may be sold; `listed sizes only`: no other in this range; `any size`: free.
    """

    from_ml: float
    to_ml: float | None
    rule: str
    source: str = ""

    def holds(self, millilitres: float) -> bool:
        """True of a quantity in the range, its edges included."""
        return self.from_ml <= millilitres and (self.to_ml is None or millilitres <= self.to_ml)


PERMITTED: Final = "permitted"
LISTED_ONLY: Final = "listed sizes only"
ANY_SIZE: Final = "any size"


@dataclass(frozen=True, slots=True)
class SizeJudged:
    """Whether a size may be sold, the sizes that may where it may not, and the text it rests on."""

    may_be_sold: bool
    listed_ml: tuple[float, ...]
    source: str


def size_judged(millilitres: float, rules: Sequence[SizeRule]) -> SizeJudged:
    """A bottle size against the nominal quantities that the law lists: 700 mL may be sold, 750 may not.

    Raises OutsideTable where no rule holds of it.
    """
    held = [one for one in rules if one.holds(require_finite(millilitres, "Bottle"))]
    if not held:
        raise OutsideTable(f"No rule of nominal quantities holds of {millilitres:g} mL: enter one with its source.")
    allowed = next((one for one in held if one.rule in (PERMITTED, ANY_SIZE)), None)
    listed = tuple(one.from_ml for one in rules if one.rule == PERMITTED)
    return SizeJudged(allowed is not None, listed, (allowed or held[0]).source)
