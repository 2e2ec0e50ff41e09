"""Which figure is in force: duty rate, review threshold, usual figure, cask band and gravity table of a day.

The row that starts latest on or before the day holds; of two that start the same day, the one written last.
A row that names a vessel, warehouse or kind of cask goes before one that is for any. Where no row holds, an
error says what to enter: a figure is never guessed.

What was read is kept for the rest of a request or command in its own thread, and let go when a figure is
set or the next request begins.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any, Final, TypeVar, cast

from distillery import figures
from distillery.alcoholometry.errors import OutsideTable
from distillery.alcoholometry.gravity import FactorBand, GravityTable
from distillery.alcoholometry.rounding import DUTY_MONEY, DUTY_STRENGTH, RETURN_LPA, RULES, Mode, RoundingRule
from distillery.rules.duty import duty_lpa, duty_on, duty_strength
from distillery.rules.models import ONE, CaskBand, DutyRate, GravityFactor, ReviewThreshold, UsualFigure
from distillery.rules.models import RoundingRule as SiteRounding

__all__ = [
    "DutyNotKnown",
    "DutyOnLine",
    "NoDutyRate",
    "NoRuleInForce",
    "cask_band",
    "duty_lpa",
    "duty_on",
    "duty_on_line",
    "duty_rate",
    "duty_strength",
    "gravity_table",
    "let_go",
    "review_threshold",
    "rounding_rules",
    "usual_figure",
]

THOUSANDTHS: Final = 1_000
MILLIONTHS_A_PERCENT: Final = 10_000

Kept = TypeVar("Kept")


class NoRuleInForce(LookupError):
    """No dated row covers what was asked; the sentence says which to enter."""


class NoDutyRate(NoRuleInForce):
    """No duty rate covers that strength on that day."""


class DutyNotKnown(NoDutyRate):
    """Duty is due, but the rate or a rounding of that day is not known; the sentence says how it is entered."""


class _Held(threading.local):
    def __init__(self) -> None:
        self.rows: dict[tuple[Any, ...], Any] = {}


_held = _Held()


def let_go(**kwargs: Any) -> None:
    """Forgets what this thread has read, so that the next question asks the database."""
    _held.rows.clear()


def duty_rate(on: date, percent: Decimal) -> DutyRate:
    """The rate in force on the day of the duty point for a strength in % vol, cut down to one decimal.

    The day alone decides, whenever the spirit was made (SI 2023/884 reg 10(2)). Raises DutyNotKnown after the last day
    for which the rate is known, NoDutyRate before any rate and for strengths that bear none.
    """
    strength = duty_strength(percent)

    def read() -> DutyRate:
        millionths = int(strength * MILLIONTHS_A_PERCENT)
        # The law has a few rates for each year, and a duty account asks for many: read once, chosen here.
        rates = _keep(("duty rates",), lambda: tuple(DutyRate.objects.all()))
        fitting = [
            rate
            for rate in rates
            if rate.from_day <= on and rate.strength_from_millionths <= millionths <= rate.strength_to_millionths
        ]
        found = max(fitting, key=lambda rate: (rate.from_day, rate.pk), default=None)
        if found is None:
            raise NoDutyRate(
                f"No duty rate is set for {figures.percent(strength)} % vol on {figures.day(on, year=True)}. "
                "Enter the rate in force on that day, with its source."
            )
        if found.to_day is not None and found.to_day < on:
            raise DutyNotKnown(
                f"The duty rate for {figures.percent(strength)} % vol on {figures.day(on, year=True)} is not known: "
                f"the last one is known to {figures.day(found.to_day, year=True)}. The manager enters the next with "
                "its source, on the page Site or with set_figure duty-rate."
            )
        return found

    return _keep(("duty rate", on, strength), read)


def rounding_rules() -> tuple[RoundingRule, ...]:
    """The roundings of official figures: the site's own first, the newest before older ones, then those known here."""

    def read() -> tuple[RoundingRule, ...]:
        known = {rule.name: rule for rule in RULES}
        own = tuple(
            replace(
                known[row.name],
                step=Decimal(row.step_millionths) / ONE,
                mode=cast(Mode, row.way),
                from_date=row.from_day,
                source=row.source,
            )
            for row in SiteRounding.objects.order_by("-pk")
            if row.name in known
        )
        return (*own, *RULES)

    return _keep(("rounding rules",), read)


@dataclass(frozen=True, slots=True)
class DutyOnLine:
    """Duty on one line of a return: strength and litres of pure alcohol as duty takes them, the rate, whole pence."""

    percent: Decimal
    lpa: Decimal
    rate: DutyRate
    pence: int


def duty_on_line(on: date, litres20: Decimal, percent: Decimal) -> DutyOnLine:
    """Duty on litres at 20 °C of a strength in % vol that reached their duty point on a day.

    Raises DutyNotKnown where the rate or a rounding of that day is not known, NoDutyRate as duty_rate.
    """
    rate, rules = duty_rate(on, percent), rounding_rules()
    try:
        lpa = duty_lpa(litres20, percent, on, rules)
        return DutyOnLine(duty_strength(percent, on, rules), lpa, rate, duty_on(lpa, rate, on, rules))
    except OutsideTable as error:
        raise DutyNotKnown(
            f"How the duty of {figures.day(on, year=True)} was rounded is not known: no rule is in force on that day. "
            f"The manager enters '{DUTY_STRENGTH.name}', '{RETURN_LPA.name}' and '{DUTY_MONEY.name}' with their "
            "source, on the page Site or with set_figure rounding-rule."
        ) from error


def review_threshold(operation: str, vessel: str, on: date) -> ReviewThreshold:
    """The site's review threshold for an operation at a vessel (its code, or '' for any) on a day.

    Raises NoRuleInForce.
    """

    # A site has a few dozen of these and a month's findings ask for hundreds: read them once, choose here.
    rules = _keep(("review thresholds",), lambda: tuple(ReviewThreshold.objects.all()))
    fitting = [
        rule for rule in rules if rule.operation == operation and rule.vessel in (vessel, "") and rule.from_day <= on
    ]
    if not fitting:
        raise NoRuleInForce(
            f"No review threshold is set for {operation} on {figures.day(on, year=True)}. "
            "Set one for that operation that starts on or before that day."
        )
    return max(fitting, key=lambda rule: (rule.vessel, rule.from_day, rule.pk))


def usual_figure(name: str, on: date) -> UsualFigure | None:
    """What a figure usually is and how far it strays, as known on a day; None where the site has nothing on it."""
    rows = _keep(("usual figures",), lambda: tuple(UsualFigure.objects.all()))
    fitting = [row for row in rows if row.name == name and row.from_day <= on]
    return max(fitting, key=lambda row: (row.from_day, row.pk), default=None)


def cask_band(warehouse: str, kind: str, on: date) -> CaskBand:
    """What a cask of a kind in a warehouse is expected to lose a year, as known on a day.

    A row for the warehouse and the kind goes before one for the warehouse, that before one for the kind,
    and that before one for any cask. Raises NoRuleInForce.
    """

    # A site has a band or two for each warehouse, and a list of casks asks for many: read once, chosen here.
    rules = _keep(("cask bands",), lambda: tuple(CaskBand.objects.all()))
    fitting = [
        rule
        for rule in rules
        if rule.warehouse in (warehouse, "") and rule.cask_kind in (kind, "") and rule.from_day <= on
    ]
    if not fitting:
        raise NoRuleInForce(
            f"No band of yearly loss is set for a {kind or 'cask'} in warehouse {warehouse or 'not named'} "
            f"on {figures.day(on, year=True)}. Set one that starts on or before that day."
        )
    return max(fitting, key=lambda rule: (rule.warehouse, rule.cask_kind, rule.from_day, rule.pk))


def gravity_table(on: date) -> GravityTable:
    """The table of gravity factors in force on a day. Raises NoRuleInForce."""

    def read() -> GravityTable:
        newest = GravityFactor.objects.filter(from_day__lte=on).order_by("-from_day", "-pk").first()
        if newest is None:
            raise NoRuleInForce(
                f"No table of gravity factors is set for {figures.day(on, year=True)}. "
                "Enter one that starts on or before that day."
            )
        bands = GravityFactor.objects.filter(table=newest.table, from_day=newest.from_day)
        return GravityTable(
            from_date=newest.from_day,
            source=newest.source,
            bands=tuple(
                FactorBand(
                    from_degrees=Decimal(band.drop_from_thousandths) / THOUSANDTHS,
                    to_degrees=Decimal(band.drop_to_thousandths) / THOUSANDTHS,
                    factor=Decimal(band.factor_millionths) / ONE,
                )
                for band in bands.order_by("drop_from_thousandths")
            ),
        )

    return _keep(("gravity table", on), read)


def _keep(question: tuple[Any, ...], read: Callable[[], Kept]) -> Kept:
    if question not in _held.rows:
        _held.rows[question] = read()
    kept: Kept = _held.rows[question]
    return kept
