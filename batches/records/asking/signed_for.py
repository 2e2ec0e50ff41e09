"""What is written at a shared PC only once who writes it has shown who they are: a cut away from its plan.

It is asked for last, when nothing else stands in the way, wherever the cut is written: on the page of a run, on the
sheet, in a correction.
"""

from __future__ import annotations

from collections.abc import Mapping

from batches.models import Record
from batches.running.off_plan import OffPlan, cuts_off_plan
from batches.sheets.typed.read_sheet import Filled


class NotSigned(Exception):
    """Somebody has to show who they are before this is written; nothing was written. `cuts` are never none."""

    def __init__(self, cuts: list[OffPlan]) -> None:
        super().__init__(" ".join(one.sentence for one in cuts))
        self.cuts = tuple(cuts)


def ask_for_name(filled: Filled, record: Record | None, *, before: Mapping[str, str] | None = None) -> None:
    """Asks for the name of who writes a cut that is away from its plan and was not `before`. Raises NotSigned."""
    sheet = filled.completed.sheet
    if record is None:
        record = Record(kind=sheet.kind, happened_from=filled.completed.moment(sheet.moments[0].when))
    if found := cuts_off_plan(sheet, record, filled.typed, before):
        raise NotSigned(found)
