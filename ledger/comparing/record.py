"""What one saved record shows at once: its own balance and gauges, with as much around them as they can be judged by.

Asked after every save, so it looks only at the record's vessels, back to where each was last empty and on to its next
gauge. Lasting losses and what learns from a whole month are left to the month's own findings.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from distillery.plant.lookup import Plant
from ledger.comparing.drift.watching import Watched
from ledger.comparing.findings.findings import Finding, findings_in
from ledger.comparing.findings.judging import Judged, judge_all
from ledger.comparing.findings.unlike import unlike_findings
from ledger.comparing.model.balance_model import BalanceModel
from ledger.comparing.model.building import balance_model_of
from ledger.comparing.model.kinds.deviations import likenesses_of_records
from ledger.comparing.model.kinds.equations import kind_equations
from ledger.comparing.model.usual_losses import expected_losses_of_rules
from ledger.comparing.model.written_context import WrittenContext
from ledger.comparing.month import Month, with_tables
from ledger.comparing.observations.around_record import log_near
from ledger.comparing.search.remeasuring import remeasure_at
from ledger.comparing.search.searching import Search


@dataclass(frozen=True, slots=True)
class Near:
    """Findings around some records, the answer for each of their operations, and the rows that were looked at (keys of
    findings that are not among them were not asked about)."""

    findings: tuple[Finding, ...]
    judged: tuple[Judged, ...]
    rows: frozenset[str]


def near(records: Collection[str], plant: Plant | None = None) -> Near:
    """Looks at some records and what touches them. A dozen or so queries, however large the books."""
    site = plant or Plant()
    log = with_tables(log_near(records), site)
    sheet = balance_model_of(log, expected_losses_of_rules(dict(log.casks)), kind_equations(log))
    written = WrittenContext(log, sheet.known).written
    search = Search(sheet.with_free([]), written, remeasure_at(site), [])
    own = _own_rows(sheet, records)
    search.run(own)
    month = Month(Search(sheet, written, search.remeasure, []), search, Watched((), (), {}))
    found = [one for one in findings_in(month, own) if one.row in own]
    found += unlike_findings(likenesses_of_records(records), found, log.explained)
    balances = [key for key in own if sheet.lines[key].doing.record in records]
    return Near(tuple(found), tuple(judge_all(search, balances).values()), frozenset(own))


def _own_rows(sheet: BalanceModel, records: Collection[str]) -> set[str]:
    """Rows of the records, and those of the next gauge of each of their vessels."""
    own = {key for key, line in sheet.lines.items() if line.doing.record in records}
    for key in list(own):
        for reading in sheet.entries[key]:
            if sheet.known[reading].seen.record in records:
                own.update(sheet.columns[reading])
    return own
