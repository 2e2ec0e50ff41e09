"""What a record says of the spirit it brings or makes, for the names that ask for it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """One measure that requirements ask for, and where a record says it.

    In a `field` of its sheet or of its lines, in a `figure` that it posts to be compared with its kind, or in `words`
    that hold of all records of its kind. `at_its_highest`: what it was made from may have been higher, and the highest
    counts. Where it says nothing, what it was made from is asked.
    """

    measure: str
    field: str = ""
    figure: str = ""
    words: str = ""
    at_its_highest: bool = False
