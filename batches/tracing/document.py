"""A trace as plain data: litres of pure alcohol, shares of each kind that sum to one, and what is not known."""

from __future__ import annotations

from typing import Any

from batches.tracing.trace import Trace, Traced
from distillery.figures import MICROLITRES_A_LITRE


def as_document(trace: Trace) -> dict[str, Any]:
    """What `manage.py trace --json` prints, and the page's JSON."""
    return {
        "ref": trace.start.ref,
        "back": [_row(one) for one in trace.back],
        "forward": [_row(one) for one in trace.forward],
        "not_known": [
            {"record": one.record, "why": one.why, "lpa": one.pure_ul / MICROLITRES_A_LITRE, "of_all": one.share}
            for one in trace.not_known
        ],
    }


def _row(one: Traced) -> dict[str, str | float]:
    return {
        "record": one.record,
        "kind": one.kind,
        "lpa": one.pure_ul / MICROLITRES_A_LITRE,
        "share": one.share,
        "of_all": one.of_all,
    }
