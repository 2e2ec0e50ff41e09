"""What an operation usually loses, how well that is known, and from where on it is looked into.

Dated site data: the usual share of the charge with half the width of its range (the doubt tau), its spread from run to
run (sigma), and the review threshold with its floor. A cask's usual loss is the middle of its yearly band, compounded
over the years since it was filled or last gauged. Shares are of the alcohol that went in.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from distillery.clock.reading import site_day
from distillery.plant.models import MICRO
from distillery.rules.cask_loss import kept_share, yearly_share
from distillery.rules.in_force import NoRuleInForce, cask_band, review_threshold
from distillery.rules.models import ONE
from ledger.comparing.model.equations import Equation
from ledger.comparing.model.kinds.estimate import FEWEST_ALIKE
from ledger.comparing.observations.observed import ObservedCask
from ledger.comparing.statistics.algebra.robust import centre_and_spread

# A range that holds about 95 % of casks is four standard deviations wide.
_RANGE_IN_SPREADS = 4.0
# Wood takes up spirit while a cask is young; and none is known closer than this share
# a year (common practice, no source).
_YEARS_TO_TELL = 1.0
_LEAST_YEARLY_SPREAD = 0.002


@dataclass(frozen=True, slots=True)
class ExpectedLoss:
    """Usual share lost, doubt about it, spread from run to run; review threshold as a share and its floor in LPA.

    `most` is the far side of a cask's band: only what lies beyond it is a difference.
    """

    share: float
    doubt: float
    spread: float
    threshold_share: float
    floor_lpa: float
    basis: str
    most: float | None = None


ExpectedLossOf = Callable[[Equation], ExpectedLoss | None]


def expected_losses_of_rules(casks: dict[str, ObservedCask]) -> ExpectedLossOf:
    """Looks the site's figures up by operation, vessel and day; None where none is set."""

    def usual(line: Equation) -> ExpectedLoss | None:
        on = site_day(line.at)
        try:
            rule = review_threshold(line.family, min(line.vessels, default=""), on)
        except NoRuleInForce:
            return None
        found = ExpectedLoss(
            share=rule.usual_millionths / ONE,
            doubt=rule.usual_half_width_millionths / ONE,
            spread=rule.spread_millionths / ONE,
            threshold_share=rule.threshold_millionths / ONE,
            floor_lpa=rule.floor_ul / MICRO,
            basis=rule.source,
        )
        return _of_cask(found, casks.get(line.vessels[0]), on, line.years) if line.ages else found

    return usual


def _of_cask(rule: ExpectedLoss, cask: ObservedCask | None, on: date, years: float) -> ExpectedLoss:
    try:
        band = cask_band(cask.warehouse if cask else "", cask.kind if cask else "", on)
    except NoRuleInForce:
        return rule
    left = band.yearly.left_after(years)
    least, most = 1.0 - left.most, 1.0 - left.least
    return ExpectedLoss(
        share=1.0 - left.middle,
        doubt=0.0,
        spread=(most - least) / _RANGE_IN_SPREADS,
        threshold_share=rule.threshold_share,
        floor_lpa=rule.floor_lpa,
        basis=band.source,
        most=most,
    )


def learnt_from_casks(casks: Sequence[tuple[ExpectedLoss, float, float]]) -> list[ExpectedLoss]:
    """What casks weighed again together usually lose: robustly from their own yearly losses, once there are enough.

    Given usual loss, share lost and years of each; the band stays what it is for the difference.
    """
    rates = [yearly_share(1.0, max(1.0 - lost, 0.0), years) for _, lost, years in casks if years >= _YEARS_TO_TELL]
    if len(rates) < FEWEST_ALIKE:
        return [usual for usual, _, _ in casks]
    centre, spread = centre_and_spread(rates)
    spread = max(spread, _LEAST_YEARLY_SPREAD)
    return [
        replace(usual, share=1.0 - kept_share(centre, years), spread=min(usual.spread, spread * years))
        if years >= _YEARS_TO_TELL
        else usual
        for usual, _, years in casks
    ]
