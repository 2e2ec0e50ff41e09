"""Findings from figures unlike their kind that no balance speaks of: a run's time, a mean fill, a cask's loss a year.

A figure that hangs on a reading is a row of the one model and comes out of the search. What is left here stands beside
its kind alone. A record that a finding names already is left to it: one cause, one finding; and of several figures of a
record the furthest speaks for all. A figure that restates the balance of its operation is about the same fact as that
balance: it bears the same key, and is silent once the difference is explained.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from ledger.comparing.findings.causes import CauseLine, Likely
from ledger.comparing.findings.finding import LIKENESS, Finding
from ledger.comparing.model.likeness import Likeness

_LOOK = "Look at the figure as it was written, and at what was done differently."


def unlike_findings(
    figures: Iterable[Likeness], found: Sequence[Finding], explained: Collection[str] = ()
) -> list[Finding]:
    """One finding for each record with a figure beyond its level that nothing found so far names, in order of time.

    `explained` are the records whose difference two people have explained.
    """
    named = {record for one in found for record in (one.record, *one.under, *(cause.record for cause in one.likely))}
    furthest: dict[str, Likeness] = {}
    for one in figures:
        if not one.is_outlier or one.record in named or (one.restates and one.record in explained):
            continue
        if one.record not in furthest or abs(one.z) > abs(furthest[one.record].z):
            furthest[one.record] = one
    return [_finding(one) for one in furthest.values()]


def _finding(one: Likeness) -> Finding:
    cause = Likely(
        cause=one.sentence,
        record=one.record,
        field=one.field,
        # What is worked out from readings stands in the sentence; it is no value of the column.
        written=one.written(one.value) if one.is_reading else "",
        would_be=one.written(one.expected) if one.is_reading else "",
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
        uncertainty_ul=0,
        threshold_ul=0,
        in_ul=0,
        basis=one.basis,
        likely=(cause,),
        key=_key(one),
        lines=(line,),
        statistic=one.z**2,
    )


def _key(one: Likeness) -> str:
    if one.restates:
        return f"operation:{one.record}"
    return ":".join(filter(None, ("unlike", one.record, one.name, one.vessel)))
