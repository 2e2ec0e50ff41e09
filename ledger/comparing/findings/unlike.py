"""Findings from figures unlike their kind that no balance speaks of: a run's time, a mean fill, a cask's loss a year.

A figure that hangs on a gauged reading is a row of the one model and comes out of the search: it is judged there and
nowhere else. The figures here can only be compared with their kind. A record that another finding names gets no second
one here, and of several figures of a record only the one furthest off makes a finding. Some figures say once more what
the balance of their operation says. Such a finding is about the same fact, so it has the key of the balance, and there
is none once the difference is explained.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from ledger.comparing.findings.finding import LIKENESS, BesideUsual, Finding
from ledger.comparing.findings.likely import CauseLine, Likely
from ledger.comparing.model.kinds.deviations import Deviation

_LOOK = "Look at the figure as it was written, and at what was done differently."


def unlike_findings(
    figures: Iterable[Deviation],
    found: Sequence[Finding],
    explained: Collection[str] = (),
    in_model: Collection[tuple[str, str]] = (),
) -> list[Finding]:
    """One finding for each record with a figure beyond its level that nothing found so far names, in order of time.

    `explained` are the records whose difference two people have explained, `in_model` the figures (record and name)
    that are rows of the model.
    """
    named = {record for one in found for record in (one.record, *one.under, *(cause.record for cause in one.likely))}
    furthest: dict[str, Deviation] = {}
    for one in figures:
        if not one.is_outlier or (one.record, one.name) in in_model:
            continue
        if one.record in named or (one.restates and one.record in explained):
            continue
        if one.record not in furthest or abs(one.z) > abs(furthest[one.record].z):
            furthest[one.record] = one
    return [_finding(one) for one in furthest.values()]


def _finding(one: Deviation) -> Finding:
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
        beside_usual=BesideUsual(one.name, one.value, one.expected, one.uncertainty, one.unit),
    )


def _key(one: Deviation) -> str:
    if one.restates:
        return f"operation:{one.record}"
    return ":".join(filter(None, ("unlike", one.record, one.name, one.vessel)))
