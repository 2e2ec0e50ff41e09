"""The sum of the shares of a trace, by kind: one each, if nothing is left out and nothing is counted twice."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from batches.tracing.trace import Traced


def shares_by_kind(traced: Iterable[Traced]) -> dict[str, float]:
    sums: dict[str, float] = defaultdict(float)
    for one in traced:
        sums[one.kind] += one.share
    return dict(sums)
