"""How a site sets its own figures: a new dated row with its source, never a change to an old one.

Percentages are of the alcohol that went in. A threshold is the site's own review threshold: it says from
which size on a difference is looked into, and allows no loss.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Final

from distillery import figures
from distillery.alcoholometry.rounding import RULES, WAYS
from distillery.people.models import Person
from distillery.rules import in_force, returned
from distillery.rules.models import ONE, CaskBand, DutyRate, LossCause, ReviewThreshold, RoundingRule, UsualFigure
from distillery.rules.setting import entering
from distillery.rules.setting.entering import Unsettable, enter, keep
from distillery.rules.units import (
    HUNDREDTHS_OF_A_PENNY_A_POUND,
    MICROLITRES_A_LITRE,
    MILLIONTHS,
    MILLIONTHS_A_PERCENT,
    UnusableFigureError,
    whole,
)
from distillery.seals.writing import signed

__all__ = [
    "Unsettable",
    "add_loss_cause",
    "set_cask_band",
    "set_duty_rate",
    "set_rounding_rule",
    "set_threshold",
    "set_usual_figure",
]

# 10^9 in millionths stays well inside the database's 64 bits.
LARGEST_POWER_OF_TEN: Final = 9


@signed("figures of the site")
def set_threshold(
    *,
    operation: str,
    vessel: str = "",
    from_day: date,
    usual_percent: Decimal,
    usual_half_width_percent: Decimal,
    spread_percent: Decimal,
    threshold_percent: Decimal,
    floor_lpa: Decimal,
    source: str,
    person: Person | None = None,
    reason: str = "",
) -> ReviewThreshold:
    """Adds a review threshold for an operation, at one vessel or ('') at any, from a day on, with who and why.

    Shares in percent, 0 to 100; the floor in litres of pure alcohol, from 0. Raises Unsettable.
    """
    row = ReviewThreshold(
        operation=entering.said("operation", operation),
        vessel=vessel.strip(),
        from_day=from_day,
        usual_millionths=share("usual_percent", usual_percent),
        usual_half_width_millionths=share("usual_half_width_percent", usual_half_width_percent),
        spread_millionths=share("spread_percent", spread_percent),
        threshold_millionths=share("threshold_percent", threshold_percent),
        floor_ul=parts("floor_lpa", floor_lpa, MICROLITRES_A_LITRE),
        source=entering.said("source", source),
    )
    return enter(row, person=person, reason=reason)


@signed("figures of the site")
def set_cask_band(
    *,
    warehouse: str = "",
    cask_kind: str = "",
    from_day: date,
    low_percent_a_year: Decimal,
    high_percent_a_year: Decimal,
    source: str,
    person: Person | None = None,
    reason: str = "",
) -> CaskBand:
    """Adds what casks are expected to lose a year, lowest and highest percent, from a day on. Raises Unsettable."""
    low = share("low_percent_a_year", low_percent_a_year)
    high = share("high_percent_a_year", high_percent_a_year)
    if high < low:
        raise Unsettable("high_percent_a_year", "The highest loss a year is below the lowest: exchange the two.")
    row = CaskBand(
        warehouse=warehouse.strip(),
        cask_kind=cask_kind.strip(),
        from_day=from_day,
        low_millionths_a_year=low,
        high_millionths_a_year=high,
        source=entering.said("source", source),
    )
    return enter(row, person=person, reason=reason)


@signed("figures of the site")
def set_usual_figure(
    *,
    name: str,
    from_day: date,
    expected: Decimal | None = None,
    spread: Decimal,
    source: str,
    person: Person | None = None,
    reason: str = "",
) -> UsualFigure:
    """Adds what a figure usually is and how far it strays (one standard deviation), in its own unit, from a day on.

    Without `expected` another reading or the site's history says what to expect. Raises Unsettable for a name that
    no figure has, and for a spread of nothing.
    """
    known = UsualFigure.objects.filter(name=entering.said("name", name)).first()
    if known is None:
        names = ", ".join(UsualFigure.objects.order_by("name").values_list("name", flat=True).distinct())
        raise Unsettable("name", f"No figure is called {name}; there are: {names}.")
    row = UsualFigure(
        name=known.name,
        from_day=from_day,
        unit=known.unit,
        expected_millionths=None if expected is None else parts("expected", expected, MILLIONTHS),
        spread_millionths=parts("spread", spread, MILLIONTHS),
        source=entering.said("source", source),
    )
    if not row.spread_millionths:
        raise Unsettable("spread", "A figure that never strays cannot be compared: give a spread above 0.")
    return enter(row, person=person, reason=reason)


@signed("figures of the site")
def set_duty_rate(
    *,
    from_day: date,
    strength_from_percent: Decimal,
    strength_to_percent: Decimal,
    pounds_per_lpa: Decimal,
    tax_type: str = "",
    source: str,
    to_day: date | None = None,
    reason: str = "",
    owed_later: bool = False,
    person: Person | None = None,
) -> DutyRate:
    """Adds a duty rate for a band of strengths (both ends included, one decimal) from a day on, in a person's name.

    From that day on it goes before any earlier rate of those strengths. `to_day` is the last day for which the rate is
    known, where that is announced: after it the duty is not known until the next is entered. A day that is returned
    upon is refused; where no rate was known on it, `owed_later` enters the rate nevertheless, and what is owed goes on
    the next return. Raises Unsettable.
    """
    if to_day is not None and to_day < from_day:
        raise Unsettable("to_day", "The last day is before the first: exchange the two.")
    low = share("strength_from_percent", strength_from_percent)
    high = share("strength_to_percent", strength_to_percent)
    if high < low:
        raise Unsettable("strength_to_percent", "The band of strengths ends below its start: exchange the two.")
    returned.not_returned_upon(
        from_day, what="rate", known=_rate_known(from_day, strength_from_percent), owed_later=owed_later
    )
    row = DutyRate(
        from_day=from_day,
        to_day=to_day,
        strength_from_millionths=low,
        strength_to_millionths=high,
        pence_hundredths_per_lpa=parts("pounds_per_lpa", pounds_per_lpa, HUNDREDTHS_OF_A_PENNY_A_POUND),
        tax_type=tax_type.strip(),
        source=entering.said("source", source),
    )
    return keep(row, person=person, reason=reason)


@signed("figures of the site")
def set_rounding_rule(
    *,
    name: str,
    from_day: date,
    step: Decimal,
    way: str,
    source: str,
    reason: str = "",
    owed_later: bool = False,
    person: Person | None = None,
) -> RoundingRule:
    """Adds how an official figure is rounded from a day on: to whole steps of its unit, one of the ways of WAYS.

    For days before the roundings that are known by themselves, or after a change. A day that is returned upon is
    refused as by `set_duty_rate`. Raises Unsettable.
    """
    named = entering.said("name", name)
    names = sorted({rule.name for rule in RULES})
    if named not in names:
        raise Unsettable("name", f"No rounding is called {named}; there are: {', '.join(names)}.")
    said = entering.said("way", way).replace(" ", "_")
    if said not in WAYS:
        raise Unsettable("way", f"{way} is no way of rounding; there are: {', '.join(WAYS)}.")
    row = RoundingRule(
        name=named,
        from_day=from_day,
        step_millionths=parts("step", step, MILLIONTHS),
        way=said,
        source=entering.said("source", source),
    )
    if not row.step_millionths:
        raise Unsettable("step", "A step of 0 rounds to nothing: give the step, such as 0.1.")
    known = any(
        rule.name == named and (rule.from_date is None or rule.from_date <= from_day)
        for rule in in_force.rounding_rules()
    )
    returned.not_returned_upon(from_day, what="rounding", known=known, owed_later=owed_later)
    return keep(row, person=person, reason=reason)


@signed("figures of the site")
def add_loss_cause(
    *, name: str, from_day: date, source: str, person: Person | None = None, reason: str = ""
) -> LossCause:
    """Adds a cause of loss that may be named from a day on. Raises Unsettable if the site has it already."""
    said = entering.said("name", name).lower()
    if LossCause.objects.filter(name=said).exists():
        raise Unsettable("name", f"The cause {said} is on the list already.")
    cause = LossCause(name=said, from_day=from_day, source=entering.said("source", source))
    return enter(cause, person=person, reason=reason)


def _rate_known(on: date, percent: Decimal) -> bool:
    try:
        in_force.duty_rate(on, percent)
    except in_force.NoDutyRate:
        return False
    return True


def share(field: str, percent: Decimal) -> int:
    """A percentage of 0 to 100 in millionths. Raises Unsettable."""
    millionths = parts(field, percent, MILLIONTHS_A_PERCENT)
    if millionths > ONE:
        raise Unsettable(field, f"{figures.percent(percent)} % is more than the whole: give 0 to 100.")
    return millionths


def parts(field: str, figure: Decimal, per_unit: int) -> int:
    """A figure of 0 or more in whole parts, `per_unit` of them a unit. Raises Unsettable."""
    if not figure.is_finite() or figure.adjusted() > LARGEST_POWER_OF_TEN:
        raise Unsettable(field, f"The figure {figure} is larger than can be kept: check it, and write all its digits.")
    try:
        parts = whole(figure, per_unit)
    except (UnusableFigureError, ArithmeticError, ValueError) as error:
        raise Unsettable(field, f"The figure {figure} cannot be kept: give a number with fewer decimals.") from error
    if parts < 0:
        raise Unsettable(field, f"The figure {figure} is below zero: give 0 or more.")
    return parts
