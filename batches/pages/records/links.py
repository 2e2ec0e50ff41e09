"""The records before and after one, each with how much came that way and its share of the whole."""

from __future__ import annotations

from collections.abc import Sequence

from batches.models import Link as RecordLink
from batches.models import Record
from batches.pages.records.shown import record_address, title_of
from batches.tracing.materials import said_of
from distillery import figures, pages


def links_of(record: Record) -> tuple[list[pages.Link], list[pages.Link]]:
    """Records this one came from and went to, the largest first, each with quantity and share. Two queries."""
    taken = RecordLink.objects.filter(taker=record).select_related("giver")
    given = RecordLink.objects.filter(giver=record).select_related("taker")
    return (
        _shown_links([(link.giver, link) for link in taken]),
        _shown_links([(link.taker, link) for link in given]),
    )


def shares_of(links: Sequence[tuple[Record, RecordLink]]) -> list[tuple[Record, int, int, float | None]]:
    """For each record: pure alcohol (µL), mass (g), share of the whole (0 to 1; None of what is not measured)."""
    sums: dict[int, tuple[Record, int, int]] = {}
    for other, link in links:
        _, pure, mass = sums.get(other.pk, (other, 0, 0))
        sums[other.pk] = (other, pure + link.pure_ul, mass + link.mass_g)
    ranked = sorted(sums.values(), key=lambda one: (-one[1], -one[2], one[0].number))
    whole = sum(pure for _, pure, _ in ranked)
    weight = sum(mass for _, _, mass in ranked)
    return [
        (other, pure, mass, None if not (pure or mass) else pure / whole if whole else mass / weight)
        for other, pure, mass in ranked
    ]


# Shares of the mix in a vessel never quite end; below this they are left out of pages and prints.
LEAST_SHARE = 0.0005


def _shown_links(links: Sequence[tuple[Record, RecordLink]]) -> list[pages.Link]:
    shown, said = [], {other.pk: said_of(link) for other, link in links}
    for other, pure, mass, share in shares_of(links):
        if share is not None and share < LEAST_SHARE:
            continue
        amount = f"{figures.lpa(pure)} LPA" if pure else f"{figures.kilograms(mass)} kg" if mass else said[other.pk]
        part = f"{figures.percent(share * 100)} %" if share is not None and len(links) > 1 else ""
        note = ", ".join(piece for piece in (title_of(other.kind), amount, part) if piece)
        shown.append(pages.Link(other.number, record_address(other), note))
    return shown
