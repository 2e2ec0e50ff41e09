"""What a step hands to the ledger: gauges taken to account and flows, not yet amounts.

A step says in order what happened to each vessel. The ledger works out the amounts, because only it
knows the book before each gauge. Three kinds of line are enough for every operation:

- Taken: the vessel's book is brought to a gauge; what that takes or gives goes to another account;
- Moved: so much goes from one account to another;
- Emptied: an account's book is brought to nothing and the rest goes to another account.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from distillery.alcoholometry.quantity import Quantity
from ledger.posting.accounts import AccountRef


class Refused(Exception):
    """A movement that cannot be: one sentence, and the name of the field it concerns where there is one."""

    def __init__(self, sentence: str, *, field: str = "") -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field


@dataclass(frozen=True, slots=True)
class GaugeTaken:
    """One gauge of one vessel. `name` is the sheet's prefix for its readings; `raw` is what was typed."""

    name: str
    vessel_account: AccountRef
    quantity: Quantity
    raw: dict[str, str]
    method: str
    role: str
    rule: str = "OIML R 22"
    chain: str = ""


@dataclass(frozen=True, slots=True)
class MeasureTaken:
    """How the amount of a flow was measured: a residue by volume and strength, bottles by count, a cask by weight."""

    name: str
    raw: dict[str, str]
    method: str
    rule: str
    chain: str


@dataclass(frozen=True, slots=True)
class FigureTaken:
    """A figure of an operation that can be compared with its kind.

    `like` names the kind ('SS1', 'barrel 200 L'), `beside` the record among whose lines it stands (a fill), `field` the
    column it hangs on. `expected` and `spread` are given where another figure says what to expect; else history does.
    `parts` say how far one unit of each reading, by column, moves the figure.
    """

    name: str
    like: str
    field: str
    value: float
    unit: str
    beside: str = ""
    expected: float | None = None
    spread: float | None = None
    parts: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Taken:
    """Brings the gauged vessel's book to the gauge against another account."""

    gauge: GaugeTaken
    against: AccountRef
    stage: str = ""


@dataclass(frozen=True, slots=True)
class Moved:
    """So much goes from giver to taker."""

    giver: AccountRef
    taker: AccountRef
    quantity: Quantity
    stage: str = ""
    field: str = ""
    measured: MeasureTaken | None = None


@dataclass(frozen=True, slots=True)
class Emptied:
    """Brings an account's book to nothing; the rest, more or less, goes to `into`."""

    account: AccountRef
    into: AccountRef
    stage: str = ""


Line = Taken | Moved | Emptied


@dataclass(frozen=True, slots=True)
class DutyDue:
    """Duty on a removal, as worked out from the label and the rate of the day.

    Rate and pence are None where they are not known; `source` then says why.
    """

    removal: str
    tax_type: str
    litres20: Decimal
    percent: Decimal
    lpa: Decimal
    rate_pence_hundredths: int | None
    pence: int | None
    source: str


# What gauges are judged against, and so a record that only gauges.
THE_BOOK = "the book"


@dataclass(frozen=True, slots=True)
class JudgedAgainst:
    """What an operation's difference is judged against, in words, and how much pure alcohol that is (microlitres).

    `parts` are the gauges whose alcohol adds up to it, by name with their signs, those of another record as
    `name@record`: where one of them is put right, so is the figure. Without parts it comes from the books; without
    `pure_ul` it is the books that the gauges of this very movement meet.
    """

    name: str
    pure_ul: int | None = None
    parts: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Draft:
    """One movement as a step declares it, before the ledger has worked out its legs."""

    kind: str
    operation: str
    happened_at: datetime
    record_kind: str
    record_number: str
    moment: str
    lines: tuple[Line, ...]
    duty: tuple[DutyDue, ...] = field(default=())
    figures: tuple[FigureTaken, ...] = field(default=())
    judged: JudgedAgainst | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Book:
    """What an account's book says it holds: pure alcohol in microlitres, mass in grams."""

    pure_ul: int
    mass_g: int
