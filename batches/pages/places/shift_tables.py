"""The lists of a shift: what is still to be completed, and what was written last."""

from __future__ import annotations

from typing import Any

from batches.models import State, Version
from batches.pages.records.shown import record_address, state_of, title_of
from distillery.lists.columns import ListColumn, MomentColumn
from distillery.lists.tables import HouseTable


def _what(version: Version) -> str:
    title = title_of(version.record.kind)
    if version.reason:
        return f"{title}, corrected: {version.reason}"
    return title if version.serial == 1 else f"{title}, added to"


def _step(row: Any) -> str:
    return "Complete" if row.state == State.OPEN else "Countersign"


class OpenTable(HouseTable):
    """Records that are begun and not complete, the oldest first."""

    record = ListColumn("Record", "number", href=record_address)
    what = ListColumn("What", lambda row: title_of(row.kind))
    begun = MomentColumn("Begun", "happened_from", order=("happened_from", "pk"))
    state = ListColumn("State", lambda row: "", state=state_of)
    following = ListColumn(
        "Next",
        _step,
        href=lambda row: record_address(row, "record_add" if row.state == State.OPEN else "record"),
    )

    name = "open"
    caption = "To complete"
    nothing = "Nothing is open. Every record that was begun is complete."

    class Meta(HouseTable.Meta):
        order_by = ("begun",)


class WrittenTable(HouseTable):
    """Versions of records, the newest first."""

    written = MomentColumn("Written", "written_at")
    person = ListColumn("By", "person__shown_name")
    record = ListColumn("Record", "record__number", href=lambda row: record_address(row.record))
    what = ListColumn("What", _what)
    happened = MomentColumn("Happened", "record__happened_from")

    name = "written"
    caption = "Written last"
    nothing = "Nothing has been written yet. Begin with a sheet above."
