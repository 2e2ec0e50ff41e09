"""Which version of a record the books hold."""

from __future__ import annotations

from batches.models import Posted, Record, State, Version


def version_in_books(record: Record) -> Version:
    """The newest version, but where a correction waits for a second person the one that was posted before it."""
    if record.state == State.WAITING:
        posted = (
            Posted.objects.standing()
            .filter(record=record)
            .select_related("version__person")
            .order_by("-version__serial")
            .first()
        )
        if posted is not None:
            return posted.version
    return Version.objects.filter(record=record).select_related("person").latest("serial")
