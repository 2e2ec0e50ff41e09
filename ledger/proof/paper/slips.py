"""Tells a digest that was typed with one slip from one that is unknown.

The printed form has no check figure, and a digest of so many figures needs none: two known digests are never one slip
apart, so what is one slip away from a known digest is that digest mistyped. A slip is one figure for another, two
neighbours changed about, one left out or one too many.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import Final

from django.apps import apps
from django.db.models import Q

from distillery.printing.furniture import grouped
from ledger.proof.checking import LONGEST, Asked, Checked, check

FIGURES: Final = "0123456789abcdef"
# As many figures as stand at the foot of a page; they are searched by, and what was typed beyond them is compared.
HEAD: Final = 16
# Beginnings asked for in one query.
AT_ONCE: Final = 200
MOST: Final = 5

# Columns that keep what is printed, each with an index; floors above add theirs.
KEPT: list[tuple[str, str]] = [
    ("ledger.Movement", "seal"),
    ("ledger.Closing", "digest"),
    ("seals.BooksSeal", "seal"),
    ("prints.Print", "digest"),
]


@dataclass(frozen=True, slots=True)
class Slip:
    """A known digest that is one slip away from what was typed, and what it belongs to."""

    digest: str
    title: str
    href: str
    sentence: str


def slips(asked: Asked, anew: Sequence[Checked] = ()) -> list[Slip]:
    """Known digests one slip away; `anew` are pages worked out from the number that was typed. Empty where none is."""
    found = [_slip(asked, one) for one in anew if one_slip(asked.digest, one.digest)]
    for digest in sorted(set(_near(asked.digest)))[:MOST]:
        found += [_slip(asked, one) for one in check(Asked(digest)) if not one.anew][:1]
    return found


def one_slip(typed: str, known: str) -> bool:
    """True where a known digest, as far as it was typed, differs from what was typed by one slip."""
    long = len(typed)
    same = known[:long]
    apart = [at for at in range(min(long, len(same))) if typed[at] != same[at]]
    if len(same) == long:
        if len(apart) == 1:
            return True
        if len(apart) == 2 and apart[1] == apart[0] + 1:
            first, second = apart
            return typed[first] == same[second] and typed[second] == same[first]
    if not apart:
        return False
    at = apart[0]
    left_out, too_many = known[: long + 1], known[: long - 1]
    return left_out[:at] + left_out[at + 1 :] == typed or typed[:at] + typed[at + 1 :] == too_many


def beginnings(typed: str) -> set[str]:
    """How a digest may begin that was typed with one slip, in as many figures as are searched by."""
    head = typed[:HEAD]
    found = {head} if len(typed) > HEAD else set()
    for at in range(len(head)):
        found |= {head[:at] + figure + head[at + 1 :] for figure in FIGURES if figure != head[at]}
        found |= {(head[:at] + figure + head[at:])[:HEAD] for figure in FIGURES}
        found.add((typed[:at] + typed[at + 1 :])[:HEAD])
        if at + 1 < len(head):
            found.add(head[:at] + head[at + 1] + head[at] + head[at + 2 :])
    return found


def _near(typed: str) -> Iterator[str]:
    begin = sorted(beginnings(typed))
    for label, column in KEPT:
        rows = apps.get_model(label).objects.order_by()
        for start in range(0, len(begin), AT_ONCE):
            several = begin[start : start + AT_ONCE]
            asked = reduce(or_, (Q(**{f"{column}__gte": one, f"{column}__lt": f"{one}g"}) for one in several))
            for digest in rows.filter(asked).values_list(column, flat=True).distinct()[:AT_ONCE]:
                if len(digest) == LONGEST and one_slip(typed, digest):
                    yield digest


def _slip(asked: Asked, one: Checked) -> Slip:
    shown = grouped(one.digest) if len(asked.digest) <= HEAD else one.digest
    sentence = f"Its digest is {shown}, one slip away from what was typed. Compare each figure with the page."
    return Slip(one.digest, one.title, one.href, sentence)
