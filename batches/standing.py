"""Which version of a record the books hold."""

from __future__ import annotations

from batches.models import Posted, Record, Signature, State, Version


def version_in_books(record: Record) -> Version:
    """The newest version, but while a correction waits for a second person the one posted or signed before it."""
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
        # What posts no movement stands by what a second person has signed.
        signed = (
            Signature.objects.filter(record=record, what=Signature.What.AGREED)
            .select_related("version__person")
            .order_by("-pk")
            .first()
        )
        if signed is not None:
            return signed.version
    return Version.objects.filter(record=record).select_related("person").latest("serial")
