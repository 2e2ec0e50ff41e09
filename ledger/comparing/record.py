"""The way in for a saved record: what it shows at once, with as much around it as it can be judged by.

Asked after every save, so it looks only at the record's vessels, back to where each was last empty and on to its next
gauge. Lasting losses and what learns from a whole month are left to the month's own findings.
"""

from __future__ import annotations

from collections.abc import Collection

from distillery.plant.lookup import Plant
from ledger.comparing.compare import Comparison, compare
from ledger.comparing.findings.judging import Judged, judge_all
from ledger.comparing.model.kinds.deviations import deviations_of_records
from ledger.comparing.observations.around_record import log_near


def compare_records(records: Collection[str], plant: Plant | None = None) -> Comparison:
    """Some records compared, with what touches them. A dozen or so queries, however large the books.

    Keys of findings that are not among its `rows` were not asked about.
    """
    return compare(log_near(records), plant or Plant(), records=records, deviations=deviations_of_records(records))


def judged_of(compared: Comparison, records: Collection[str]) -> list[Judged]:
    """The answer for each operation of the records."""
    model = compared.search.model
    balances = [key for key in compared.rows or () if model.equations[key].doing.record in records]
    return list(judge_all(compared.search, balances).values())
