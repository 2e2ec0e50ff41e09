"""What an account holds by the record that gave it, taken as well mixed. Whole microlitres of pure alcohol; pure."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(slots=True)
class Mix:
    """What an account holds, by the record that gave it, in whole microlitres."""

    book_ul: int = 0
    shares: dict[int, int] = field(default_factory=dict)

    def scale(self, book_ul: int, *, found_by: int) -> None:
        """The same mix in another amount; where the mix is unknown, the record `found_by` counts as its giver."""
        self.book_ul = book_ul
        if book_ul <= 0:
            self.shares = {}
        elif any(self.shares.values()):
            self.shares = apportion(book_ul, self.shares)
        else:
            self.shares = {found_by: book_ul}

    def give(self, giver: int, pure_ul: int) -> None:
        """A record adds to the contents."""
        self.book_ul += pure_ul
        self.shares[giver] = self.shares.get(giver, 0) + pure_ul

    def take(self, pure_ul: int, of: frozenset[int] = frozenset()) -> dict[int, int]:
        """So much leaves with the mix that is there; returns it by giver.

        Where it is known of which givers it is, as bottles of a lot are, it is theirs as far as they have as much.
        """
        theirs = {giver: held for giver, held in self.shares.items() if giver in of}
        taken = apportion(min(pure_ul, sum(theirs.values())), theirs)
        there = {giver: held - taken.get(giver, 0) for giver, held in self.shares.items()}
        for giver, part in apportion(pure_ul - sum(taken.values()), there).items():
            taken[giver] = taken.get(giver, 0) + part
        self.book_ul -= pure_ul
        left = max(self.book_ul, 0)
        self.shares = apportion(left, there) if left else {}
        return taken


def apportion(total: int, weights: dict[int, int]) -> dict[int, int]:
    """Parts a whole amount by weights so that the parts add up to it; the largest remainders are rounded up."""
    whole = sum(weights.values())
    if whole <= 0 or total <= 0:
        return {}
    parts = {key: total * weight // whole for key, weight in weights.items()}
    short = total - sum(parts.values())
    by_remainder = sorted(weights, key=lambda key: (-(total * weights[key] % whole), key))
    for key in by_remainder[:short]:
        parts[key] += 1
    return {key: part for key, part in parts.items() if part}
