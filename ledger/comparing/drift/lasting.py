"""Single faults and what lasts, looked for together.

Once something is found to last, the single faults are looked for again with the size of it left free. So the first runs
of a lasting loss are not taken for losses of their own, and a slip in one of those runs is judged beside that run's
share of the loss.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from ledger.comparing.drift.watching import Watched, watch
from ledger.comparing.model.balance_model import BalanceModel, WrittenOf, left_free
from ledger.comparing.remembered import NOTHING, Remembered
from ledger.comparing.search.remeasuring import Remeasure
from ledger.comparing.search.searching import Search
from ledger.comparing.statistics.algebra.problem import FaultKind

# What the key of a lasting loss left free begins with.
LASTING = "lasting:"


@dataclass(frozen=True, slots=True)
class Searched:
    """A balance model before and after the search, its charts and watches."""

    as_written: Search
    search: Search
    watched: Watched


def search_model(
    model: BalanceModel, written: WrittenOf, remeasure: Remeasure, known: Remembered = NOTHING
) -> Searched:
    """Searches a model for single faults and for what lasts; parts of that may be `known`."""
    as_written = Search(model, written, remeasure, [], known)
    # The search corrects a model of its own, the one as written stays untouched.
    search = Search(model.with_free(list(model.free)), written, remeasure, [], known)
    search.run()
    watched = watch(search.model)
    if watched.watches:
        search, watched = _beside(watched, model, search)
    return Searched(as_written, search, watched)


def _beside(watched: Watched, model: BalanceModel, first: Search) -> tuple[Search, Watched]:
    losses = _losses(watched, first)
    if losses:
        # The first run of a large lasting loss alone passes the level, and is then taken for a loss of its own.
        rest = [one for one in first.model.free if not any(one.key.startswith(f"{key}:") for key in losses)]
        watched = watch(first.model.with_free(rest))
    lasting = [
        left_free(f"{LASTING}{one.family}", one.column, one.share, one.share_uncertainty) for one in watched.watches
    ]
    runs = {line.key for one in watched.watches for line in one.runs}
    if not losses and not any(runs & one.moved.keys() for one in first.found):
        first.model = first.model.with_free([*first.model.free, *lasting])
        first.run()
        return first, watched
    search = Search(model.with_free(lasting), first.written, first.remeasure, [], first.known)
    search.run()
    again = watch(search.model.with_free([one for one in search.model.free if one not in lasting]))
    kept = {one.family for one in again.watches}
    watches = (*again.watches, *(one for one in watched.watches if one.family not in kept))
    return search, replace(again, watches=watches)


def _losses(watched: Watched, search: Search) -> set[str]:
    """Single losses found in operations of a type that something lasts in."""
    families = {one.family for one in watched.watches}
    return {
        one.fault.hypothesis.key
        for one in search.found
        if one.fault.hypothesis.kind is FaultKind.LOSS
        and any(search.model.equations[key].family in families for key in one.moved)
    }
