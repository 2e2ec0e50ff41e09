"""One writing into the ledger, from taking the end of the chain to the last restatement.

Whoever writes holds the end of the chain until commit, so movements are written one after another and
no two writings can deadlock. Everything here happens inside the caller's transaction.

What truly happened in a closed period is carried by the books at the first open moment (ledger/periods/places.py): its
legs are worked out, and the gauges after it restated, as if it were written in its true place.
"""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone

from distillery.people.models import Person
from ledger.models import Movement, MovementKind
from ledger.posting.accounts import AccountRef
from ledger.posting.chain_end import ChainEnd
from ledger.posting.drafts import Draft, Emptied, Moved, Refused, Taken
from ledger.posting.floors import keep_floors
from ledger.posting.legs import PLACES, Books, plan_legs
from ledger.posting.restating import restate
from ledger.posting.rows import (
    duty_row,
    figure_row,
    flow_row,
    gauge_row,
    judge_against,
    leg_rows,
    opposite_duties,
    opposite_legs,
)
from ledger.proof.sealing import Details


class Writing:
    """Writes movements behind the end of the chain, number and seal of the last one, until `finish`."""

    def __init__(self, end: tuple[int, str], *, person: Person, second: Person | None, written_at: datetime) -> None:
        self._end = ChainEnd(end, person=person, second=second, written_at=written_at)

    def write(
        self,
        draft: Draft,
        *,
        record_digest: str = "",
        slot: int | None = None,
        reason: str = "",
        kind: str = MovementKind.OPERATION,
    ) -> Movement:
        """Works out the legs of a draft against the books as they stood and writes it."""
        if not timezone.is_aware(draft.happened_at):
            raise Refused("A movement needs a time with its zone.", field="happened_at")
        end = self._end
        slot, replacing = (end.next_number, False) if slot is None else (slot, True)
        place = end.carrying.place_of(draft)
        accounts = end.open(_refs_of(draft))
        books = Books(
            happened_at=draft.happened_at,
            base=slot * PLACES,
            ids={code: account.pk for code, account in accounts.items()},
            replacing=replacing,
            closed=place.is_carried,
        )
        plans, book_at_gauge = plan_legs(draft.lines, books)
        movement = end.movement(
            kind=kind,
            operation=draft.operation,
            place=place,
            record=(draft.record_kind, draft.record_number, draft.moment),
            reason=reason or draft.reason,
            slot=slot,
            record_digest=record_digest,
        )
        judge_against(movement, draft.judged, sum(book_at_gauge))
        legs = leg_rows(movement, plans, accounts, ahead=place.ahead)
        gauges = [
            gauge_row(movement, line.gauge, accounts[line.gauge.vessel_account.code], slot * PLACES + index, book_ul)
            for (index, line), book_ul in zip(
                ((i, line) for i, line in enumerate(draft.lines) if isinstance(line, Taken)), book_at_gauge, strict=True
            )
        ]
        rest = Details(
            gauges=gauges,
            flows=[
                flow_row(movement, index, line, accounts)
                for index, line in enumerate(draft.lines)
                if isinstance(line, Moved) and line.measured is not None
            ],
            figures=[figure_row(movement, index, one) for index, one in enumerate(draft.figures)],
            duties=[duty_row(movement, due) for due in draft.duty],
        )
        return end.put(movement, legs, rest)

    def reverse(self, original: Movement, *, reason: str) -> None:
        """Writes the exact opposite of a movement and of every restatement of its gauges."""
        if original.kind not in (MovementKind.OPERATION, MovementKind.EXPLANATION):
            raise Refused(f"Movement {original.pk} follows from another; correct the record it belongs to.")
        if Movement.objects.filter(corrects=original).exists():
            raise Refused(f"Movement {original.pk} has been corrected already; correct what replaced it.")
        behind = Movement.objects.standing().filter(restates__movement=original)
        for movement in [*behind.order_by("-id"), original]:
            self._opposite(movement, reason=reason)

    def finish(self) -> None:
        """Restates gauges that what was written has moved, looks at the floors, lets go of the chain."""
        restate(self._end)
        keep_floors(self._end)
        self._end.release()

    def _opposite(self, original: Movement, *, reason: str) -> None:
        place = self._end.carrying.place_of_opposite(original)
        movement = self._end.movement(
            kind=MovementKind.CORRECTION,
            operation=original.operation,
            place=place,
            record=(original.record_kind, original.record_number, original.moment),
            reason=reason,
            slot=original.slot,
            corrects=original,
        )
        legs = opposite_legs(movement, original, ahead=place.ahead)
        self._end.put(movement, legs, Details(duties=opposite_duties(movement, original)))


def _refs_of(draft: Draft) -> list[AccountRef]:
    refs: list[AccountRef] = []
    for line in draft.lines:
        if isinstance(line, Taken):
            refs += [line.gauge.vessel_account, line.against]
        elif isinstance(line, Moved):
            refs += [line.giver, line.taker]
        elif isinstance(line, Emptied):
            refs += [line.account, line.into]
    return refs
