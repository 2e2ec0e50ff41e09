"""Findings of counts of bottled stock: bottles that are missing or over against the book they met.

Bottles are counted whole, so no reading's doubt stands behind such a difference: what is beyond the site's review
threshold for it is looked into, and where the site has set none, every bottle is. What of it was explained since is
taken out first.
"""

from __future__ import annotations

from typing import Final

from distillery import figures
from distillery.clock.reading import site_day
from distillery.rules.in_force import NoRuleInForce, review_threshold
from distillery.rules.models import ReviewThreshold
from ledger.comparing.findings.finding import COUNT, Finding
from ledger.comparing.findings.likely import CauseLine, Likely
from ledger.comparing.observations.from_ledger import operations_in
from ledger.comparing.unaccounted import THE_BOOK, threshold_ul
from ledger.statements.counted_stock import STOCK_COUNT, CountedStock, counted_stock

LOOK: Final = "Count the lot again, and look through breakages, samples and removals since it was last counted."


def stock_apart(period: str | None = None) -> list[Finding]:
    """Findings of counts in one period ('2027-03'), or in everything posted. Raises NoSuchPeriod."""
    found = []
    for one in counted_stock(operations_in(period)):
        rule = stock_threshold(one)
        if abs(one.open_ul) > threshold_ul(rule, one.book_ul):
            found.append(_finding(one, rule))
    return found


def stock_threshold(one: CountedStock) -> ReviewThreshold | None:
    """The review threshold in force as it was counted; None where the site has set none."""
    try:
        return review_threshold(STOCK_COUNT, "", site_day(one.at))
    except NoRuleInForce:
        return None


def _finding(one: CountedStock, rule: ReviewThreshold | None) -> Finding:
    causes = tuple(_causes(one))
    return Finding(
        kind=COUNT,
        record=one.record,
        record_kind=one.record_kind,
        operation=STOCK_COUNT,
        at=one.at,
        difference_ul=one.open_ul,
        explained_ul=one.explained_ul,
        uncertainty_ul=0,
        threshold_ul=threshold_ul(rule, one.book_ul),
        in_ul=one.book_ul,
        judged_against=THE_BOOK,
        basis=rule.source if rule is not None else "",
        likely=causes,
        key=one.key,
        lines=(CauseLine(causes, 0.0, LOOK),),
        row=one.key,
    )


def _causes(one: CountedStock) -> list[Likely]:
    """What makes bottles be missing or over, likeliest first (common practice, no source); a count cannot tell them
    apart."""
    size = f"{_bottles(one)} of {one.name}"
    if one.open_ul > 0:
        return [
            _cause(one, f"{size} broken or lost", is_loss=True),
            _cause(one, f"{size} removed or taken as a sample, and not written down before the count"),
            _cause(one, f"{_bottles(one)} counted short, or counted as another lot"),
        ]
    return [
        _cause(one, f"{size} bottled or returned, and not written down before the count"),
        _cause(one, f"{_bottles(one)} counted twice, or counted as this lot and of another"),
    ]


def _cause(one: CountedStock, said: str, *, is_loss: bool = False) -> Likely:
    return Likely(said, one.record, "", "", "", 0.0, one.record_kind, is_loss=is_loss)


def _bottles(one: CountedStock) -> str:
    bottles = abs(one.bottles)
    return "1 bottle" if bottles == 1 else f"{figures.count(bottles)} bottles"
