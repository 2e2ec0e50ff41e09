"""Two people who read the same thing at the same minute: whoever saves second sees both figures first.

Neither is lost. Both may stand, since two people can read two figures.
"""

from __future__ import annotations

from collections.abc import Sequence

from batches.models import Reading, Record
from batches.records.asking.questions import Question, Sure, Why, ask
from batches.sheets.register import sheet_of
from distillery import figures
from distillery.people.models import Person


def ask_about_same_minute(record: Record, new: Sequence[Reading], person: Person, sure: Sure) -> None:
    """Asks about readings of a minute for which somebody else's figure of the same quantity stands. Raises Asked."""
    others = (
        Reading.objects.filter(record=record, at__in={one.at for one in new}, struck_by__isnull=True)
        .exclude(value="")
        .exclude(person=person)
        .select_related("person")
        .order_by("written_at", "pk")
    )
    standing = {(one.at, one.quantity): one for one in others}
    labels = {one.name: one.label for one in sheet_of(record.kind).readings}
    found = [
        Question(
            field=one.quantity,
            why=Why.SAME_MINUTE,
            sentence=f"{labels[one.quantity]} at {figures.moment(one.at)}: {other.person.shown_name} wrote "
            f"{other.value} at {figures.clock(other.written_at)}, and you wrote {one.value}. Nothing of yours is saved "
            "yet.",
            said=f"{one.at.isoformat(timespec='minutes')} {one.value}",
            keep="Keep both",
        )
        for one in new
        if (other := standing.get((one.at, one.quantity))) is not None
    ]
    ask(found, sure)
