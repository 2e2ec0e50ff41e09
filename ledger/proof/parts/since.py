"""Where a proof from the last closing on begins: what that closing froze and names, taken as it says.

The closing itself is proved: its digest, its two people, the movement and the seal of the books it names. All that is
asked for here is found by indexes, so it takes as long after ten years as after one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from django.db import connection
from django.db.models import Min

from distillery.seals.models import BooksSeal
from ledger.models import Movement
from ledger.periods.calendar import Calendar
from ledger.periods.models import Closing, ClosingBalance
from ledger.periods.proof import digest_holds, place_of
from ledger.proof.parts.sums import Frozen
from ledger.proof.sealing import FIRST_SEAL


class NoClosing(ValueError):
    """Nothing was closed yet, so a proof cannot begin from a closing; one sentence."""


@dataclass(frozen=True, slots=True)
class Since:
    """A closing as the beginning of a proof. `first` is the first movement that is read, `ends` as the database has it.

    Some movements of the period after the closing may be written before it, and so may some of the closed period
    stand among those that are read: the chain is read by number, and sums leave out what the closing froze.
    """

    closing: Closing
    frozen: Frozen
    first: int
    ends: Any
    books_seal: BooksSeal | None

    @property
    def period(self) -> str:
        return self.closing.period

    @property
    def entry(self) -> int:
        """The last entry of the trail that the closing's seal of the books covers."""
        return self.books_seal.entry if self.books_seal is not None else 0

    @property
    def seal_number(self) -> int:
        """The number of that seal of the books."""
        return self.books_seal.number if self.books_seal is not None else 0

    @property
    def not_looked_at(self) -> list[str]:
        """What this proof takes as it stands, in sentences."""
        closed = f"the closing of {Calendar.read().name_of(self.period)}"
        return [
            f"Everything before {closed} was taken as that closing says.",
            f"Looked at were movements from {self.first} on and entries of the trail from {self.entry + 1} on; "
            f"gauges, contents and links that lie before {closed} were not, whenever they were written.",
        ]


# What the floors above write, they prove from a closing on themselves; as `proving.PROVERS` does of the whole.
PROVERS_SINCE: list[Callable[[Since], Iterator[str]]] = []


def last_closing() -> Since:
    """The beginning for a proof of what came after the last closing. Raises NoClosing."""
    closing = Closing.objects.select_related("request__person", "person").order_by("-number").first()
    if closing is None:
        raise NoClosing("Nothing is closed yet; prove the whole of the books, without --from-closing.")
    frozen = ClosingBalance.objects.filter(closing=closing).values_list("account_id", "pure_ul", "mass_g")
    earliest = Movement.objects.filter(period__gt=closing.period).aggregate(first=Min("pk"))["first"]
    after = closing.last_number + 1
    return Since(
        closing=closing,
        frozen={pk: (pure, mass) for pk, pure, mass in frozen},
        first=after if earliest is None else min(after, earliest),
        ends=connection.ops.adapt_datetimefield_value(closing.ends),
        books_seal=BooksSeal.objects.filter(seal=closing.books_seal).first() if closing.books_seal else None,
    )


def closing_apart(since: Since) -> Iterator[str]:
    """Where the closing that a proof begins from does not hold itself, or something was written into what it closed."""
    closing, place = since.closing, place_of(since.closing)
    if not digest_holds(closing):
        yield f"{place}: its content does not give its digest"
    before = Closing.objects.filter(number=closing.number - 1).values_list("digest", flat=True).first()
    if closing.previous_digest != (before if before is not None else FIRST_SEAL):
        yield f"{place}: it does not follow the digest of the closing before it"
    seal = Movement.objects.filter(pk=closing.last_number).values_list("seal", flat=True).first()
    if closing.last_number and seal != closing.last_seal:
        yield f"{place}: movement {closing.last_number} does not bear the seal it names"
    if closing.person_id == closing.request.person_id or closing.period != closing.request.period:
        yield f"{place}: it was not asked for by one and agreed to by another"
    if closing.books_seal and since.books_seal is None:
        yield f"{place}: the seal of the books it names is not in these books"
    into = Movement.objects.filter(pk__gt=closing.last_number, period__lte=closing.period).order_by("-pk")
    for number, period in into.values_list("pk", "period")[:1]:
        yield f"{place}: movement {number} was written into {period} after it was closed"
    early = Movement.objects.filter(pk__gte=since.first, period__gt=closing.period, happened_at__lt=closing.ends)
    for period in sorted(set(early.values_list("period", flat=True))):
        yield f"{place}: a movement of {period} happened before the closed period ended"
    ends = {closing.ends}
    carried = Movement.objects.filter(pk__gt=closing.last_number, true_at__isnull=False).order_by("pk")
    for number, happened_at, true_at in carried.values_list("pk", "happened_at", "true_at"):
        if happened_at not in ends or true_at is None or true_at >= happened_at:
            yield f"movement {number} is carried at a moment that is not the end of a closed period"
