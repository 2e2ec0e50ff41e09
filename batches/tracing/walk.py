"""Shares carried along links, back and forward. Pure: numbers in, numbers out.

The alcohol of a link is shared out by the mix that was in the vessel, so shares multiply along the chain. Links are
gone through in order of time: what a record gave before it took something carries nothing of it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

# Giver, taker and the account between them.
Way = tuple[int, int, int | None]


class Passing(NamedTuple):
    """What one record gave another by way of an account (None: malt to its mash, a mash to its fermentation).

    `weight` shares out what the taker took: microlitres of pure alcohol by way of an account; of what lies in none,
    grams where it was weighed, since malt has no alcohol of its own. `pure_ul` is the alcohol concerned.
    """

    giver: int
    taker: int
    account: int | None
    weight: float
    pure_ul: int


@dataclass(slots=True)
class Back:
    """`parts`: by record, the share of what was asked about that passed through it, the records asked about too.

    `starts` are the shares it began with, `ways` what passed by way. `left` is what of a record's share goes no further
    back: all of it at an origin.
    """

    starts: Mapping[int, float]
    parts: dict[int, float]
    ways: dict[Way, float]
    left: dict[int, float]


@dataclass(slots=True)
class Forward:
    """`amounts` is pure alcohol in microlitres by the record that took it, `passed` by the account it passed through.

    `parts` is the share of what a record holds that is of what was asked about, `ways` the alcohol by way; a giver that
    is merely mixed into the vessel that was asked about has 0 in its place.
    """

    amounts: dict[int, float] = field(default_factory=lambda: defaultdict(float))
    passed: dict[int, float] = field(default_factory=lambda: defaultdict(float))
    parts: dict[int, float] = field(default_factory=dict)
    ways: dict[Way, float] = field(default_factory=lambda: defaultdict(float))


def taken_by(links: Sequence[Passing]) -> dict[int, float]:
    """How much each record took in all, in the measure its links are shared out by."""
    taken: dict[int, float] = defaultdict(float)
    for one in links:
        taken[one.taker] += one.weight
    return taken


def go_back(links: Sequence[Passing], starts: Mapping[int, float]) -> Back:
    """Carries the shares of some records back; `links` as `reached.links_behind` gives them."""
    parts: dict[int, float] = defaultdict(float, starts)
    ways: dict[Way, float] = defaultdict(float)
    gone: dict[int, float] = defaultdict(float)
    taken = taken_by(links)
    for giver, taker, account, weight, _pure in reversed(links):
        part = parts.get(taker)
        if part and taken[taker]:
            passed = part * weight / taken[taker]
            parts[giver] += passed
            ways[giver, taker, account] += passed
            gone[taker] += passed
    return Back(dict(starts), parts, ways, {pk: part - gone[pk] if pk in gone else part for pk, part in parts.items()})


def go_forward(links: Sequence[Passing], starts: Collection[int], through: int | None = None) -> Forward:
    """Carries all of some records, or of what was in the account `through`, forward."""
    own = set(starts)
    found = Forward(parts=dict.fromkeys(starts, 1.0))
    amounts, passed, parts, ways = found.amounts, found.passed, found.parts, found.ways
    weights: dict[int, float] = defaultdict(float)
    taken = taken_by(links)
    for giver, taker, account, weight, pure in links:
        through_start = through is not None and account == through
        part = 1.0 if through_start else parts.get(giver, 0.0)
        if not part or taker in own:
            continue
        amounts[taker] += pure * part
        weights[taker] += weight * part
        ways[0 if through_start else giver, taker, account] += pure * part
        if account is not None and not through_start:
            passed[account] += pure * part
        parts[taker] = weights[taker] / taken[taker] if taken[taker] else 0.0
    return found
