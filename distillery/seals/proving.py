"""Proves the seals of the books from the trail, and names what is in the trail and nobody claims.

One reading of the trail in order; memory does not grow with it. That the movements a seal names have their seals is
proved a floor above, where movements are known.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from distillery.database.rows_as_kept import MomentText, Row, rows_of
from distillery.hashing import FIRST_SEAL, seal
from distillery.seals.entries import chained, entries
from distillery.seals.models import BooksSeal, SealGap
from distillery.seals.writing import SealAsKept, content
from distillery.trail.models import Claim


def prove_seals(after: BooksSeal | None = None) -> Iterator[str]:
    """One sentence for each place in the seals of the books, or in the trail, that does not hold.

    `after` a seal, what it says is taken as the beginning, and what follows it is read.
    """
    digest, number, covered, previous = FIRST_SEAL, 0, 0, FIRST_SEAL
    if after is not None:
        digest, number, covered, previous = after.entry_digest, after.number, after.entry, after.seal
        if seal(after.previous_seal, content(after)) != after.seal:
            yield f"seal {after.number} of the books: what it says does not give it"
    # In the order of the trail by either end; by this one the database finds those behind a seal without reading all.
    claims = (
        Claim.objects.order_by("first") if after is None else Claim.objects.filter(last__gt=covered).order_by("last")
    )
    unclaimed = _Unclaimed(rows_of(claims, "first", "last"))
    trail = entries(after=covered)
    row = next(trail, None)
    later = BooksSeal.objects.filter(number__gt=number).order_by("number")
    for row_of_seal in rows_of(later, "number", MomentText("made_at"), *SealAsKept._fields[2:]):
        books_seal = SealAsKept(*row_of_seal)
        place = f"seal {books_seal.number} of the books"
        number += 1
        if books_seal.number != number:
            yield f"{place}: seal {number} is missing before it"
            number = books_seal.number
        if books_seal.entry < covered:
            yield f"{place}: it covers less of the trail than the seal before it"
        while row is not None and row[0] <= books_seal.entry:
            covered, digest = row[0], chained(digest, row)
            yield from unclaimed.look_at(row)
            row = next(trail, None)
        if (covered, digest) != (books_seal.entry, books_seal.entry_digest):
            yield f"{place}: the trail up to it is not what was sealed"
            # Judged from here on by what was sealed, so that one change is named once.
            covered, digest = books_seal.entry, books_seal.entry_digest
        if books_seal.previous_seal != previous:
            yield f"{place}: it does not follow the seal before it"
        if seal(books_seal.previous_seal, content(books_seal)) != books_seal.seal:
            yield f"{place}: what it says does not give it"
        previous = books_seal.seal
    if row is not None:
        # Every piece of writing ends with its seal, so what stands behind the last seal was sealed once, or never.
        yield f"entries of the trail from {row[0]} on stand under no seal of the books"
        yield from (said for one in (row, *trail) for said in unclaimed.look_at(one))
    for gap in SealGap.objects.filter(after__gt=number):
        yield f"the gap up to seal {gap.noted_number}: it begins after the last seal of these books"


class _Unclaimed:
    """Goes along the trail with the claims and names each entry that lies in none."""

    def __init__(self, claims: Iterator[Row]) -> None:
        # First and last entry of each.
        self._claims = claims
        self._claim = next(claims, None)

    def look_at(self, row: tuple[Any, ...]) -> Iterator[str]:
        number, table, key, act, at, _content = row
        while self._claim is not None and self._claim[1] < number:
            self._claim = next(self._claims, None)
        if table == Claim._meta.db_table or (self._claim is not None and self._claim[0] <= number):
            return
        done = "removed" if act == "removed" else "written"
        yield f"{table} {key}: it was {done} past the program at {at} (entry {number} of the trail), by nobody known"
