"""A ledger of plain lists that adds everything up again for every question it is asked.

It keeps what is laid down for the real one and nothing of how that works: an entry is put into its place
in time; a corrected record is taken out as if it had never been; and wherever a gauge that stands does
not meet its book, what is missing there goes to the gauging of its vessel. Slow on purpose.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import datetime
from zoneinfo import ZoneInfo

from ledger.posting.accounts import AccountRef
from ledger.posting.drafts import Draft, Moved, Taken

Place = tuple[datetime, int, int]
Amount = tuple[int, int]
SITE_CLOCK = ZoneInfo("Europe/London")


class TooLittle(Exception):
    """A cask or a stock of bottles would hold less than nothing."""


@dataclass(frozen=True)
class Entry:
    movement: int
    place: Place
    account: str
    amount: Amount


@dataclass(frozen=True)
class Measured:
    movement: int
    place: Place
    account: str
    amount: Amount


@dataclass
class NaiveLedger:
    entries: list[Entry] = field(default_factory=list)
    gauges: list[Measured] = field(default_factory=list)
    places: dict[int, int] = field(default_factory=dict)
    accounts: dict[str, AccountRef] = field(default_factory=dict)
    written: int = 0

    def post(self, draft: Draft) -> int:
        """Writes one movement and gives its number here. Raises TooLittle, with nothing written."""
        return self.replace([], [draft])[0]

    def replace(self, old: list[int], drafts: list[Draft], places: list[int] | None = None) -> list[int]:
        """Takes movements out and puts drafts in, in the places given."""
        kept = list(self.entries), list(self.gauges)
        self.entries = [entry for entry in self.entries if entry.movement not in old]
        self.gauges = [gauge for gauge in self.gauges if gauge.movement not in old]
        numbers = [self._write(draft, places[i] if places else None) for i, draft in enumerate(drafts)]
        self._meet_gauges()
        if any(amount[0] < 0 for code in self._floored() for amount in self.running(code).values()):
            self.entries, self.gauges = kept
            raise TooLittle
        return numbers

    def book(self, account: str, until: Place | None = None) -> Amount:
        """What an account holds after everything up to a place, that place included."""
        found = [e.amount for e in self.entries if e.account == account and (until is None or e.place <= until)]
        return sum(pure for pure, _ in found), sum(mass for _, mass in found)

    def running(self, account: str) -> dict[Place, Amount]:
        """What an account held just after each place that an entry of it stands in."""
        return {place: self.book(account, place) for place in {e.place for e in self.entries if e.account == account}}

    def after_movements(self, account: str) -> dict[tuple[datetime, int], Amount]:
        """What an account held after each movement, by when it happened and its place among those of that moment."""
        return {place[:2]: self.book(account, (*place[:2], 4096)) for place in self.running(account)}

    def months(self) -> dict[tuple[str, str], Amount]:
        """The net of each account in each month of the site's clock."""
        sums: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0])
        for entry in self.entries:
            kept = sums[entry.place[0].astimezone(SITE_CLOCK).strftime("%Y-%m"), entry.account]
            kept[0] += entry.amount[0]
            kept[1] += entry.amount[1]
        return {key: (pure, mass) for key, (pure, mass) in sums.items() if pure or mass}

    def _floored(self) -> list[str]:
        return [code for code, account in self.accounts.items() if account.floor_zero]

    def _write(self, draft: Draft, place: int | None) -> int:
        self.written += 1
        number = self.written
        self.places[number] = number if place is None else place
        for line_number, line in enumerate(draft.lines):
            here = (draft.happened_at, self.places[number], line_number)
            if isinstance(line, Taken):
                account, other = line.gauge.vessel_account, line.against
                measured = (line.gauge.quantity.pure_ul, line.gauge.quantity.mass_g)
                book = self.book(account.code, here)
                self._both(number, here, account, other, (measured[0] - book[0], measured[1] - book[1]))
                self.gauges.append(Measured(number, here, account.code, measured))
            elif isinstance(line, Moved):
                self._both(number, here, line.taker, line.giver, (line.quantity.pure_ul, line.quantity.mass_g))
            else:
                book = self.book(line.account.code, here)
                self._both(number, here, line.account, line.into, (-book[0], -book[1]))
        return number

    def _both(self, movement: int, place: Place, account: AccountRef, other: AccountRef, amount: Amount) -> None:
        self.accounts[account.code], self.accounts[other.code] = account, other
        self.entries.append(Entry(movement, place, account.code, amount))
        self.entries.append(Entry(movement, place, other.code, (-amount[0], -amount[1])))

    def _meet_gauges(self) -> None:
        for gauge in sorted(self.gauges, key=lambda gauge: gauge.place):
            book = self.book(gauge.account, gauge.place)
            if book != gauge.amount:
                apart = gauge.amount[0] - book[0], gauge.amount[1] - book[1]
                finding = f"difference:gauging:{gauge.account.removeprefix('vessel:')}"
                self.entries.append(Entry(gauge.movement, gauge.place, gauge.account, apart))
                self.entries.append(Entry(gauge.movement, gauge.place, finding, (-apart[0], -apart[1])))
