"""Findings of casks that were weighed below their band, or above their book, as they were emptied.

Emptied by weight, a cask has no gauge that its operation balances: what it gave is compared with what was filled, and
what it lacked of its band stands in the difference of the record alone. So each such cask is held against the review
threshold of a regauge by itself, as it would have been had it been regauged first, and against what two weighings like
this one can be wrong by (k = 2).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from math import sqrt
from typing import Final

from distillery import figures
from distillery.clock.reading import site_day
from distillery.rules.in_force import NoRuleInForce, review_threshold
from distillery.rules.models import ReviewThreshold
from ledger.comparing.findings.finding import ENQUIRY, Finding
from ledger.comparing.findings.judging import COVERAGE
from ledger.comparing.findings.likely import CauseLine, Likely
from ledger.comparing.observations.from_ledger import operations_in
from ledger.comparing.unaccounted import OperationLeft, left_by_records, threshold_ul
from ledger.statements.emptied_casks import Emptied, emptied_casks

REGAUGE: Final = "regauge"
LOOK: Final = "Look for a leak at the cask and where it lay, and weigh it again empty."


def with_casks_beyond(found: Iterable[Finding], period: str | None = None) -> list[Finding]:
    """These findings with those of casks that were emptied beyond their band. An operation that is looked into already
    has its casks named first among the causes. Raises NoSuchPeriod.
    """
    known = list(found)
    casks: dict[str, list[tuple[Emptied, ReviewThreshold]]] = defaultdict(list)
    for one in emptied_casks(operations_in(period)):
        rule = _rule(one)
        if rule is not None and abs(one.beyond_ul) > _least(one, rule):
            casks[one.record].append((one, rule))
    if not casks:
        return known
    left = left_by_records(list(casks))
    for record, some in casks.items():
        # What was explained since is no longer open; what the vat has and the weights do not, the balance says.
        if record not in left or not (open_ones := [one for one in some if _is_open(one, left[record])]):
            continue
        lines = tuple(CauseLine((_cause(one),), 0.0, LOOK) for one, _ in open_ones)
        key = f"operation:{record}"
        there = next((place for place, one in enumerate(known) if one.key == key), None)
        if there is None:
            known.append(_finding(key, open_ones, left[record], lines))
        else:
            known[there] = _named_first(known[there], lines)
    return known


def _rule(one: Emptied) -> ReviewThreshold | None:
    try:
        return review_threshold(REGAUGE, one.cask, site_day(one.at))
    except NoRuleInForce:
        return None


def _least(one: Emptied, rule: ReviewThreshold) -> float:
    """From which size on a cask is looked into, microlitres."""
    return max(threshold_ul(rule, one.book_ul), COVERAGE * sqrt(2.0) * one.uncertainty_ul)


def _is_open(of: tuple[Emptied, ReviewThreshold], left: OperationLeft) -> bool:
    one, rule = of
    return one.beyond_ul * left.open_ul > 0 and abs(left.open_ul) > _least(one, rule)


def _cause(one: Emptied) -> Likely:
    beyond, lpa = one.beyond_ul, figures.lpa(abs(one.beyond_ul))
    said = (
        f"cask {one.cask} held {lpa} LPA less than the least expected of it"
        if beyond > 0
        else f"cask {one.cask} held {lpa} LPA more than its book"
    )
    return Likely(said, one.record, "", "", "", 0.0, one.record_kind, vessel=one.cask, is_loss=True)


def _named_first(known: Finding, lines: tuple[CauseLine, ...]) -> Finding:
    causes = tuple(cause for one in lines for cause in one.causes)
    return replace(known, lines=(*lines, *known.lines), likely=(*causes, *known.likely))


def _finding(
    key: str, casks: list[tuple[Emptied, ReviewThreshold]], left: OperationLeft, lines: tuple[CauseLine, ...]
) -> Finding:
    first, rule = casks[0]
    return Finding(
        kind=ENQUIRY,
        record=first.record,
        record_kind=first.record_kind,
        operation=first.operation,
        at=first.at,
        difference_ul=left.open_ul,
        explained_ul=left.explained_ul,
        uncertainty_ul=left.uncertainty_ul,
        threshold_ul=threshold_ul(rule, first.book_ul),
        in_ul=left.charge_ul,
        judged_against=left.judged_against,
        basis=rule.source,
        likely=tuple(cause for one in lines for cause in one.causes),
        key=key,
        lines=lines,
        row=key,
    )
