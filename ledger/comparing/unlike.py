"""Findings from figures unlike their kind that no balance speaks of: a run's time, a mean fill, a cask's loss a year.

A figure that hangs on a reading is a row of the one model and comes out of the search. What is left here stands beside
its kind alone. A record that a finding names already is left to it: one cause, one finding; and of several figures of a
record the furthest speaks for all.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ledger.comparing.causes import CauseLine, Likely
from ledger.comparing.finding import LIKENESS, Finding
from ledger.comparing.likeness import Likeness

_LOOK = "Look at the figure as it was written, and at what was done differently."


def unlike_findings(figures: Iterable[Likeness], found: Sequence[Finding]) -> list[Finding]:
    """One finding for each record with a figure beyond its level that nothing found so far names, in order of time."""
    named = {record for one in found for record in (one.record, *one.under, *(cause.record for cause in one.likely))}
    furthest: dict[str, Likeness] = {}
    for one in figures:
        if not one.is_outlier or one.record in named:
            continue
        if one.record not in furthest or abs(one.z) > abs(furthest[one.record].z):
            furthest[one.record] = one
    return [_finding(one) for one in furthest.values()]


def _finding(one: Likeness) -> Finding:
    cause = Likely(
        cause=one.sentence,
        record=one.record,
        field=one.field,
        written=one.written(one.value),
        would_be=one.written(one.expected),
        leaves_lpa=0.0,
        record_kind=one.record_kind,
        vessel=one.vessel,
    )
    line = CauseLine((cause,), one.z**2, _LOOK)
    return Finding(
        kind=LIKENESS,
        record=one.record,
        record_kind=one.record_kind,
        operation=one.name,
        at=one.at,
        difference_ul=0,
        uncertainty_ul=0.0,
        threshold_ul=0,
        in_ul=0,
        basis=one.basis,
        likely=(cause,),
        key=":".join(filter(None, ("unlike", one.record, one.name, one.vessel))),
        lines=(line,),
        statistic=one.z**2,
    )
