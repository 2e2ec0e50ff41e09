"""One month compared: its rows as written, what was found in them, and what leans one way over its runs."""

from __future__ import annotations

from dataclasses import dataclass, replace

from distillery.plant.lookup import Plant
from ledger.comparing.drift.watching import Watched, watch
from ledger.comparing.model.balance_model import BalanceModel, left_free
from ledger.comparing.model.building import balance_model_of
from ledger.comparing.model.kinds.equations import kind_equations
from ledger.comparing.model.usual_losses import ExpectedLossOf, expected_losses_of_rules
from ledger.comparing.model.written_context import WrittenContext
from ledger.comparing.observations.from_ledger import log_of
from ledger.comparing.observations.observed import Log
from ledger.comparing.search.remeasuring import Remeasure, remeasure_at
from ledger.comparing.search.searching import Search
from ledger.comparing.statistics.algebra.problem import FaultKind

UM_PER_MM = 1000
# What the key of a lasting loss left free begins with.
LASTING = "lasting:"


@dataclass(frozen=True, slots=True)
class Month:
    """A month as written and as searched, with its charts and watches."""

    as_written: Search
    search: Search
    watched: Watched


def month_of(period: str | None, plant: Plant) -> Month:
    """Reads a month (or everything posted) from the ledger and searches it."""
    return compare(with_tables(log_of(period), plant), plant)


def compare(
    log: Log, plant: Plant, usual_of: ExpectedLossOf | None = None, remeasure: Remeasure | None = None
) -> Month:
    """Searches a log for single faults and for what lasts.

    Where something lasts, the single faults are looked for once more with it left free: the first runs of a lasting
    loss are no losses of their own, and a slip among them is judged beside its share.
    """
    sheet = balance_model_of(log, usual_of or expected_losses_of_rules(dict(log.casks)), kind_equations(log))
    written = WrittenContext(log, sheet.known).written
    measuring = remeasure or remeasure_at(plant)
    search = Search(_apart(sheet), written, measuring, [])
    search.run()
    watched = watch(search.sheet)
    if watched.watches:
        search, watched = _beside(watched, sheet, search)
    return Month(Search(sheet, written, measuring, []), search, watched)


def _beside(watched: Watched, sheet: BalanceModel, first: Search) -> tuple[Search, Watched]:
    losses = _losses(watched, first)
    if losses:
        # The first run of a large lasting loss is loud enough to be taken for a loss of its own.
        rest = [one for one in first.sheet.free if not any(one.key.startswith(f"{key}:") for key in losses)]
        watched = watch(first.sheet.with_free(rest))
    lasting = [
        left_free(f"{LASTING}{one.family}", one.column, one.share, one.share_uncertainty) for one in watched.watches
    ]
    runs = {line.key for one in watched.watches for line in one.runs}
    if not losses and not any(runs & one.moved.keys() for one in first.found):
        first.sheet = first.sheet.with_free([*first.sheet.free, *lasting])
        first.run()
        return first, watched
    search = Search(sheet.with_free(lasting), first.written, first.remeasure, [])
    search.run()
    again = watch(search.sheet.with_free([one for one in search.sheet.free if one not in lasting]))
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
        and any(search.sheet.lines[key].family in families for key in one.moved)
    }


def with_tables(log: Log, plant: Plant) -> Log:
    """The log with the ends of each dipped vessel's table: the dips that can be at all."""
    ends: dict[str, tuple[float, float]] = {}
    dipped = {event.measured.vessel for event in log.events if event.measured.reading("dip_mm")}
    for code in dipped:
        vessel = plant.vessel(code)
        table = plant.table(vessel) if vessel is not None else None
        if table is not None and table.dips_um:
            ends[code] = (table.dips_um[0] / UM_PER_MM, table.dips_um[-1] / UM_PER_MM)
    return replace(log, table_ends=ends)


def _apart(sheet: BalanceModel) -> BalanceModel:
    """A sheet of its own to be corrected, the one as written untouched."""
    return replace(sheet, free=list(sheet.free))
