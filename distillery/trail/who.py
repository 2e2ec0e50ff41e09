"""Who made an entry of the trail, where that is known. Asked here alone, so a better answer is given everywhere."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from typing import Any, Final

from distillery.people.models import Person
from distillery.trail.kept import told_models
from distillery.trail.models import Claim, Entry

NOBODY: Final = "nobody: written past the program"

# Columns in which a row names whoever wrote it.
_WRITER = ("person_id", "opened_by_id")


def who_wrote(entries: Sequence[tuple[Entry, dict[str, Any], bool]]) -> dict[int, str]:
    """Who it was in words, by the key of the entry; of each entry what the row says, and whether it was its first.

    That is who signed on when it was written; else whom the row itself names, where it was its first writing; else the
    part of the program or the command that wrote it. What the program did not write, nobody known did.
    """
    claims = _claims_of([entry.pk for entry, _, _ in entries])
    told = told_models()
    named = {entry.pk: _named_in(said) for entry, said, first in entries if first and entry.table in told}
    people = Person.objects.in_bulk({person for person in named.values() if person is not None})
    found: dict[int, str] = {}
    for entry, _, _ in entries:
        claim, writer = claims.get(entry.pk), people.get(named.get(entry.pk) or 0)
        if claim is None:
            found[entry.pk] = NOBODY
        elif claim.person is not None:
            found[entry.pk] = claim.person.shown_name
        elif writer is not None:
            found[entry.pk] = writer.shown_name
        elif claim.way:
            found[entry.pk] = claim.way
    return found


def _named_in(said: dict[str, Any]) -> int | None:
    return next((said[one] for one in _WRITER if said.get(one) is not None), None)


def _claims_of(keys: Sequence[int]) -> dict[int, Claim]:
    if not keys:
        return {}
    near = Claim.objects.select_related("person").filter(first__lte=max(keys), last__gte=min(keys)).order_by("first")
    claims = list(near)
    firsts = [claim.first for claim in claims]
    found: dict[int, Claim] = {}
    for key in keys:
        at = bisect_right(firsts, key) - 1
        if at >= 0 and claims[at].last >= key:
            found[key] = claims[at]
    return found
