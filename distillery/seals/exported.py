"""The seals of the books and the trail they cover, as an export hands them out: in the form that is hashed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from distillery.hashing import canonical
from distillery.seals.entries import entries
from distillery.seals.models import BooksSeal
from distillery.seals.writing import content

SEALS: Final = "seals.jsonl"
TRAIL: Final = "trail.jsonl"

SEALS_HASHED: Final = """\
Every line of seals.jsonl is one JSON object with "content", "previous_seal" and "seal": a seal over the books as they
stood after one piece of writing, made like that of a movement. "movements" in it is the number and the seal of the last
movement then, "trail" the number of the last entry of the trail and the digest of the trail up to it. Seals of this
kind stand at the foot of every printed page.
"""
TRAIL_HASHED: Final = """\
Every line of trail.jsonl is one entry of the trail as a JSON list: number, table, row, what was done, when, and what
the row then said. The digest of the trail after an entry is SHA-256 over the digest before it (sixty-four noughts
before the first), one line feed, and the line of the entry.
"""


def seal_lines(upto: int) -> Iterator[str]:
    """Each seal made when the chain of movements ended no later than at a movement, as one line of JSON."""
    for one in BooksSeal.objects.filter(movement__lte=upto).order_by("number").iterator(chunk_size=2000):
        yield f'{{"content":{content(one)},"previous_seal":"{one.previous_seal}","seal":"{one.seal}"}}\n'


def trail_lines(upto: int) -> Iterator[str]:
    """The entries that those seals cover, each as one line of JSON."""
    last = BooksSeal.objects.filter(movement__lte=upto).order_by("-number").first()
    for entry in entries(upto=last.entry) if last is not None else ():
        yield f"{canonical(list(entry))}\n"
