"""Where the books carry an entry, given what is closed: in its own place, or at the first moment that is open."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from ledger.models import Movement
from ledger.periods.calendar import NoSuchPeriod, calendar_and_closed
from ledger.periods.places import CARRIED
from ledger.posting.accounts import OPENING_STOCK
from ledger.posting.drafts import Draft, Refused


@dataclass(frozen=True, slots=True)
class Place:
    """Moment and period of an entry in the books, and its true moment where that is another.

    `ahead` is by how much its legs are moved before everything that truly happened at that moment.
    """

    happened_at: datetime
    period: str
    true_at: datetime | None = None
    ahead: int = 0

    @property
    def is_carried(self) -> bool:
        return self.true_at is not None


class Carrying:
    """What is closed as of one writing; one query. Raises Refused for a moment without a period."""

    def __init__(self) -> None:
        self._calendar, self._closed_to, self._open_from = calendar_and_closed()

    def is_closed(self, moment: datetime) -> bool:
        """True for a moment in a closed period."""
        return self._open_from is not None and moment < self._open_from

    def place_at(self, moment: datetime, *, ahead: int = CARRIED) -> Place:
        """The place of something that truly happened at a moment."""
        if self._open_from is not None and moment < self._open_from:
            return Place(self._open_from, self._period_of(self._open_from), moment, ahead)
        return Place(moment, self._period_of(moment))

    def place_of(self, draft: Draft) -> Place:
        """The place of a draft. A site's opening stock stands at the beginning of its first period."""
        place = self.place_at(draft.happened_at)
        if draft.operation == OPENING_STOCK and not place.is_carried:
            before = self._calendar.before(place.period)
            return replace(place, period=before) if before > self._closed_to else place
        return place

    def place_of_opposite(self, original: Movement) -> Place:
        """The place of what takes a movement back: its own, as long as that is open."""
        if self.is_closed(original.happened_at):
            # The legs of what was carried already stand ahead as they are.
            return self.place_at(original.took_place_at, ahead=CARRIED if original.true_at is None else 0)
        period = original.period if original.period > self._closed_to else self._period_of(original.happened_at)
        return Place(original.happened_at, period, original.true_at)

    def _period_of(self, moment: datetime) -> str:
        try:
            return self._calendar.period_of(moment)
        except NoSuchPeriod as unknown:
            raise Refused(str(unknown), field="happened_at") from unknown
