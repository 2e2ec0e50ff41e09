"""Works out the legs of a draft: what each gauge, flow and emptying means in whole microlitres and grams.

Nothing is written here. The books a gauge meets are read as they stood just before the line; what the
lines before it in the same draft have done is carried along.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from ledger.models import AccountKind, Entry
from ledger.periods.places import book_at, open_books_at
from ledger.posting.accounts import GAUGING, AccountRef
from ledger.posting.drafts import Book, Line, Moved, Taken

# Places within one movement: more than any operation has lines, and positions still fit into 64 bits.
PLACES = 4096


@dataclass(frozen=True, slots=True)
class LegPlan:
    """A leg before it is a row."""

    account: str
    other: str
    position: int
    stage: str
    entry: str
    pure_ul: int
    mass_g: int


@dataclass(slots=True)
class Books:
    """The books of one draft's accounts as its lines find them, in order; `closed` for a moment in a closed period."""

    happened_at: datetime
    base: int
    ids: dict[str, int]
    replacing: bool
    closed: bool = False
    _moved: dict[str, Book] = field(default_factory=dict)
    _read: dict[str, Book] = field(default_factory=dict)

    def look_up(self, refs: Iterable[AccountRef]) -> None:
        """Reads the books of several accounts at once, where the places of their lines make no difference."""
        if self.replacing or self.closed:
            return
        ids = {self.ids[ref.code]: ref.code for ref in refs}
        found = open_books_at(list(ids), self.happened_at, self.base)
        self._read |= {code: Book(*found.get(pk, (0, 0))) for pk, code in ids.items()}

    def at(self, ref: AccountRef, *, line: int) -> Book:
        """What the account holds just before this line."""
        # The place matters only where a corrected movement and its opposite stand at this moment too.
        if self.replacing or ref.code not in self._read:
            self._read[ref.code] = Book(
                *book_at(self.ids[ref.code], self.happened_at, self.base + line, closed=self.closed)
            )
        read, moved = self._read[ref.code], self._moved.get(ref.code, Book(0, 0))
        return Book(read.pure_ul + moved.pure_ul, read.mass_g + moved.mass_g)

    def move(self, ref: AccountRef, pure_ul: int, mass_g: int) -> None:
        """Carries along what a line has done."""
        moved = self._moved.get(ref.code, Book(0, 0))
        self._moved[ref.code] = Book(moved.pure_ul + pure_ul, moved.mass_g + mass_g)


@dataclass(slots=True)
class _Sum:
    position: int
    others: set[str]
    pure_ul: int = 0
    mass_g: int = 0


def plan_legs(lines: Sequence[Line], books: Books) -> tuple[list[LegPlan], list[int]]:
    """Legs in order of place, and the book each gauge met.

    A line gives its first account a leg of its own; what the lines do to the account on the other side
    is added up into one leg for each account, stage and kind of entry, between its gauges.
    """
    brought = [line for line in lines if not isinstance(line, Moved)]
    own: list[LegPlan] = []
    sums: dict[tuple[str, str, str, int], _Sum] = {}
    # A gauge of an account parts what came before it from what comes after.
    parts: Counter[str] = Counter()
    met: list[int] = []
    books.look_up(line.gauge.vessel_account if isinstance(line, Taken) else line.account for line in brought)
    for index, line in enumerate(lines):
        if isinstance(line, Taken):
            account, other = line.gauge.vessel_account, line.against
            book = books.at(account, line=index)
            met.append(book.pure_ul)
            pure_ul = line.gauge.quantity.pure_ul - book.pure_ul
            mass_g = line.gauge.quantity.mass_g - book.mass_g
        elif isinstance(line, Moved):
            account, other = line.giver, line.taker
            pure_ul, mass_g = -line.quantity.pure_ul, -line.quantity.mass_g
        else:
            account, other = line.account, line.into
            book = books.at(account, line=index)
            pure_ul, mass_g = -book.pure_ul, -book.mass_g
        if not isinstance(line, Moved):
            parts[account.code] += 1
        books.move(account, pure_ul, mass_g)
        books.move(other, -pure_ul, -mass_g)
        position = books.base + index
        if isinstance(line, Moved) and not account.holds and other.holds:
            account, other, pure_ul, mass_g = other, account, -pure_ul, -mass_g
        stage = line.stage or account.stage
        if pure_ul or mass_g:
            entry = _entry(account, other)
            own.append(LegPlan(account.code, other.code, position, account.stage or stage, entry, pure_ul, mass_g))
            other_stage = other.stage if other.holds else stage
            key = (other.code, other_stage, _entry(other, account), parts[other.code])
            total = sums.setdefault(key, _Sum(position, set()))
            total.position = position
            total.others.add(account.code)
            total.pure_ul -= pure_ul
            total.mass_g -= mass_g
    own = _between_vessels(own)
    added = [
        LegPlan(
            account=code,
            other=next(iter(total.others)) if len(total.others) == 1 else "",
            position=total.position,
            stage=stage,
            entry=entry,
            pure_ul=total.pure_ul,
            mass_g=total.mass_g,
        )
        for (code, stage, entry, _), total in sums.items()
        if total.pure_ul or total.mass_g
    ]
    return sorted(own + added, key=lambda plan: plan.position), met


def _between_vessels(own: list[LegPlan]) -> list[LegPlan]:
    """Makes two vessels each other's counter-account where one gave and the other took against one difference.

    A transfer is gauged at both ends, so that only what the gauges leave between them is difference.
    """
    apart: dict[str, list[LegPlan]] = {}
    for plan in own:
        if plan.entry == Entry.DIFFERENCE:
            apart.setdefault(plan.other, []).append(plan)
    changed: dict[int, LegPlan] = {}
    for plans in apart.values():
        gave = {plan.account for plan in plans if plan.pure_ul < 0}
        took = {plan.account for plan in plans if plan.pure_ul > 0}
        if gave and took:
            for plan in plans:
                far = took if plan.account in gave else gave
                other = next(iter(far)) if len(far) == 1 else ""
                changed[id(plan)] = replace(plan, other=other, entry=Entry.FLOW)
    return [changed.get(id(plan), plan) for plan in own]


def _entry(account: AccountRef, other: AccountRef) -> str:
    if account.kind == AccountKind.LOSS:
        return Entry.LOSS
    if account.kind == AccountKind.DIFFERENCE:
        return Entry.DIFFERENCE
    if other.code.startswith(GAUGING):
        return Entry.GAUGING
    if other.kind == AccountKind.LOSS:
        return Entry.LOSS
    if other.kind == AccountKind.DIFFERENCE:
        return Entry.DIFFERENCE
    return Entry.FLOW
