"""The figures of a difference as facts, in the same words and order on every page."""

from __future__ import annotations

from typing import Final

from django.utils.text import capfirst

from distillery.figures import difference, lpa
from distillery.pages import Fact
from ledger.comparing.unaccounted import THE_BOOK, GaugeFound

JUDGED: Final = "what the difference is judged against"
TWO_UNCERTAINTIES: Final = "Two standard uncertainties"


def found_facts(name: str, found: GaugeFound) -> list[Fact]:
    """What a gauge found against the book of its vessel. `name` is what the difference is called, with its vessel."""
    facts = [
        Fact(capfirst(THE_BOOK), lpa(found.book_ul), "LPA", note=JUDGED),
        Fact(name, difference(found.difference_ul), "LPA"),
    ]
    if found.explained_ul:
        facts.append(Fact("Explained", difference(found.explained_ul), "LPA"))
        facts.append(Fact("Still open", difference(found.open_ul), "LPA"))
    facts.append(Fact(TWO_UNCERTAINTIES, lpa(2 * found.uncertainty_ul), "LPA"))
    return facts


def left_facts(
    difference_ul: int,
    explained_ul: int,
    *,
    against: tuple[str, int],
    threshold_ul: int,
    basis: str,
    uncertainty_ul: int,
    name: str = "Difference",
) -> list[Fact]:
    """What it is judged against, the difference with its word, what of it was explained, threshold and uncertainty.

    Whole microlitres, missing positive; `against` is what it is judged against in words, and how much that is.
    """
    facts = [
        Fact(capfirst(against[0]), lpa(against[1]), "LPA", note=JUDGED),
        Fact(name, difference(difference_ul), "LPA"),
    ]
    if explained_ul:
        facts.append(Fact("Explained", difference(explained_ul), "LPA"))
        facts.append(Fact("Still open", difference(difference_ul - explained_ul), "LPA"))
    if threshold_ul or basis:
        # Of bottles every one is looked into: a threshold of nothing, with its basis.
        facts.append(Fact("Review threshold", lpa(threshold_ul), "LPA", note=basis))
    facts.append(Fact(TWO_UNCERTAINTIES, lpa(2 * uncertainty_ul), "LPA"))
    return facts
