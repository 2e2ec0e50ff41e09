"""What a recall comes to in a few figures: how much is here, how much has left, and to how many."""

from __future__ import annotations

from batches.pages.recalling.found import Found
from distillery import figures, pages


def facts_of(found: Found) -> list[pages.Fact]:
    """The answer in short; the lists below have each by itself."""
    casks = [one for one in found.in_places if one.kind == "Cask"]
    vessels = len(found.in_places) - len(casks)
    facts = [
        pages.Fact("Casks that hold some of it", figures.count(len(casks))),
        pages.Fact("Vessels that hold some of it", figures.count(vessels)),
        pages.Fact("Of it in casks and vessels", _lpa(sum(one.of_it_ul for one in found.in_places)), "LPA"),
        pages.Fact("Bottlings", figures.count(len(found.bottled))),
        pages.Fact("Bottles still in stock", figures.count(found.bottles_here)),
        pages.Fact("Bottles that left", figures.count(found.bottles_left)),
        pages.Fact("Of it that left", _lpa(sum(one.of_it_ul for one in found.left)), "LPA"),
    ]
    unnamed = sum(not one.consignee for one in found.left)
    note = f"{unnamed} removals name none" if unnamed else ""
    return [*facts, pages.Fact("Consignees", figures.count(len(found.consignees)), note=note)]


def _lpa(pure_ul: int) -> str:
    return figures.lpa(pure_ul)
