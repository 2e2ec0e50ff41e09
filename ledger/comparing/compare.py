"""The one way figures are compared: observations, balance model, search, drift, findings.

`month.py` is the way in for what the books hold.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from distillery.plant.lookup import Plant
from ledger.comparing.drift.lasting import Searched, search_model
from ledger.comparing.findings.finding import Finding, in_order
from ledger.comparing.findings.findings import findings_in
from ledger.comparing.findings.unlike import unlike_findings
from ledger.comparing.model.building import balance_model_of
from ledger.comparing.model.kinds.deviations import Deviation
from ledger.comparing.model.kinds.equations import figures_in, kind_equations
from ledger.comparing.model.usual_losses import ExpectedLossOf, expected_losses_of_rules
from ledger.comparing.model.written_context import WrittenContext
from ledger.comparing.observations.observed import Log
from ledger.comparing.remembered import NOTHING, Remembered
from ledger.comparing.search.remeasuring import Remeasure, remeasure_at
from ledger.comparing.uncollected import uncollected

UM_PER_MM = 1000


@dataclass(frozen=True, slots=True)
class Comparison(Searched):
    """What was searched, and what was found in it, most serious first."""

    findings: tuple[Finding, ...]


@uncollected()
def compare(
    log: Log,
    plant: Plant,
    *,
    deviations: Iterable[Deviation] = (),
    expected_loss: ExpectedLossOf | None = None,
    remeasure: Remeasure | None = None,
    known: Remembered = NOTHING,
) -> Comparison:
    """Compares what a log holds.

    `deviations` are the figures beside their kind that belong to what is asked about. The site's own rules and plant
    answer what is usually lost and how a reading is measured again, unless others are given. Parts may be `known` that
    were made with this plant.
    """
    log = _with_table_ends(log, plant)
    model = balance_model_of(log, expected_loss or expected_losses_of_rules(dict(log.casks)), kind_equations(log))
    written = WrittenContext(log, model.known).written
    searched = search_model(model, written, remeasure or remeasure_at(plant, known), known)
    found = findings_in(searched)
    unlike = unlike_findings(deviations, found, log.explained, figures_in(model.equations.values()))
    return Comparison(
        as_written=searched.as_written,
        search=searched.search,
        watched=searched.watched,
        findings=tuple(in_order([*found, *unlike])),
    )


def _with_table_ends(log: Log, plant: Plant) -> Log:
    """The log with the ends of each dipped vessel's table: the dips that can be at all."""
    ends: dict[str, tuple[float, float]] = {}
    dipped = {event.measured.vessel for event in log.events if event.measured.reading("dip_mm")}
    for code in dipped:
        vessel = plant.vessel(code)
        table = plant.table(vessel) if vessel is not None else None
        if table is not None and table.dips_um:
            ends[code] = (table.dips_um[0] / UM_PER_MM, table.dips_um[-1] / UM_PER_MM)
    return replace(log, table_ends=ends)
