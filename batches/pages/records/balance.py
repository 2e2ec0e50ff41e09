"""Where the alcohol of a record came from and where it went, as one line of figures that adds up.

What gave, what took, and between them nothing: a vessel that took and gave again within the record (the still of a run)
is left out. What gauges found against the book is no part of it, and is said below. Figures are those of the legs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from distillery import figures, pages
from ledger.models import Account, AccountKind, Entry, Movement, MovementKind
from ledger.views.left_facts import JUDGED
from ledger.views.ways import account_href

# More casks or stocks than these stand as one figure with their number.
MOST_BY_NAME: Final = 4


@dataclass(frozen=True, slots=True)
class Part:
    """One figure of the line. `sign` stands before it: '+', '-', '=' or nothing."""

    sign: str
    label: str
    text: str
    href: str = ""


@dataclass(frozen=True, slots=True)
class RecordBalance:
    """What gave and what took, as parts of a line, and how much was given and taken in all, microlitres."""

    gave: tuple[Part, ...]
    took: tuple[Part, ...]
    given_ul: int
    taken_ul: int

    @property
    def given(self) -> str:
        """How much was given in all, as it is shown: the sum of what gave, which a cask that ages is not judged by."""
        return figures.lpa(self.given_ul)


def balance_of(standing: Sequence[Movement]) -> RecordBalance:
    """The line of a record's operations that stand. Their legs and accounts are asked for by the caller."""
    moved: dict[Account, list[int]] = {}
    for movement in standing:
        if movement.kind != MovementKind.OPERATION:
            continue
        # What one movement gives to an account and takes from it again is one amount: a tank gets what was sent, less
        # what its gauge does not find.
        own: dict[Account, int] = {}
        for leg in movement.legs.all():
            if leg.entry != Entry.GAUGING and leg.account.kind != AccountKind.WATER and leg.pure_ul:
                own[leg.account] = own.get(leg.account, 0) + leg.pure_ul
        for account, pure_ul in own.items():
            if pure_ul:
                moved.setdefault(account, []).append(pure_ul)
    gave: dict[Account, int] = {}
    took: dict[Account, int] = {}
    for account, amounts in moved.items():
        if account.kind == AccountKind.DIFFERENCE or not sum(amounts):
            continue
        for amount in amounts:
            side = gave if amount < 0 else took
            side[account] = side.get(account, 0) + abs(amount)
    return RecordBalance(
        tuple(_parts(gave, "+")), tuple(_parts(took, "\N{MINUS SIGN}")), sum(gave.values()), sum(took.values())
    )


def _parts(amounts: dict[Account, int], sign: str) -> list[Part]:
    # Of vessels only casks are never below nothing.
    casks = {one: ul for one, ul in amounts.items() if one.kind == AccountKind.VESSEL and one.floor_zero}
    together = casks if len(casks) > MOST_BY_NAME else {}
    parts = [
        Part(sign, account.name[:1].upper() + account.name[1:], figures.lpa(amount), account_href(account))
        for account, amount in amounts.items()
        if account not in together
    ]
    if together:
        parts.append(Part(sign, f"{len(together)} casks", figures.lpa(sum(together.values()))))
    return parts


def line_of(facts: Sequence[pages.Fact], balance: RecordBalance) -> tuple[list[pages.Fact], list[pages.Fact]]:
    """The facts of a difference in two: those of the line itself, and what gauges found besides, which is said below.

    How much it is judged against is left out where that already stands as the one that gave.
    """
    judged = [place for place, one in enumerate(facts) if one.note == JUDGED]
    if not judged:
        return list(facts), []
    if len(judged) > 1:
        # Several gauges, each judged against its own book, which stands on its line.
        return [], [one for one in facts if one.note != JUDGED]
    found, own = list(facts[: judged[0]]), list(facts[judged[0] :])
    if len(balance.gave) == 1 and own[0].text == figures.lpa(balance.given_ul):
        own = own[1:]
    return own, found
