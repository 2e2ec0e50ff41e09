"""A cask on paper: what is known of it, its picture, its life, its gauges, and what was changed of it.

The changes are those of the trail: what the plant's own list has said of the cask, when, and by whom.
"""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from typing import Any

from batches.casks.life import life_of
from batches.pages.casks.facts import facts_of
from batches.pages.casks.life_table import LifeTable
from batches.pages.casks.years import years_of
from batches.pages.places.cask_table import CaskGaugeTable
from distillery import figures
from distillery.clock.reading import books_time, site_day
from distillery.pages import Fact
from distillery.plant.models import Cask, Vessel
from distillery.printing.blocks import Block, Heading, Item, ItemList
from distillery.printing.digest import digest_of, digest_statement
from distillery.printing.document import Part, print_document
from distillery.printing.drawn.picture import Picture
from distillery.printing.furniture import Furniture
from distillery.printing.house import impression, site
from distillery.printing.tabled.columns import Column
from distillery.printing.tabled.paged import figure_table
from distillery.printing.tabled.tables import FigureTable
from distillery.trail.telling import tell, told_entries
from ledger.models import Account, Gauge
from ledger.statements.balances import Holding

TITLE = "Cask"
# Grows by itself, so it is no part of the digest.
AGE = "Age"


def cask_pdf(
    vessel: Vessel, account: Account | None, held: Holding | None, *, printed_at: datetime, printed_by: str
) -> bytes:
    """The PDF, upright."""
    facts, life, changes = facts_of(vessel, held), LifeTable(life_of(vessel)), changes_of(vessel)
    taken = gauges_of(account)
    gauges = CaskGaugeTable(taken)
    digest = cask_digest(vessel, account, held)
    drawn = years_of(vessel, account, list(reversed(taken)))
    blocks: list[Block] = [
        ItemList(tuple(Item(one.label, _value(one)) for one in facts)),
        *([Picture(drawn, "Pure alcohol over the years, with the expected band")] if drawn else []),
        figure_table(life.whole()),
        figure_table(gauges.whole()),
        Heading("What was changed of it"),
        FigureTable(
            (Column("When"), Column("In words"), Column("By")),
            changes,
            none="Nothing was changed since it came onto the list.",
        ),
        digest_statement(digest),
    ]
    day = site_day(books_time(printed_at))
    number = f"{vessel.code}, {figures.day(day, year=True)}"
    furniture = Furniture(site(), TITLE, number, 0, impression(printed_at, printed_by), digest)
    return print_document([Part(furniture, blocks)])


def gauges_of(account: Account | None) -> list[Gauge]:
    """The gauges of a cask that stand, the newest first."""
    taken = Gauge.objects.standing().filter(account=account).select_related("movement")
    return list(taken.order_by("-happened_at"))


def cask_digest(vessel: Vessel, account: Account | None, held: Holding | None) -> str:
    """The digest at the foot of it: of all that it says but the age, which grows by itself."""
    life, gauges = LifeTable(life_of(vessel)), CaskGaugeTable(gauges_of(account))
    return digest_of(
        {
            "cask": vessel.code,
            "facts": [asdict(one) for one in facts_of(vessel, held) if one.label != AGE],
            "life": [[cell.text for cell in row.cells] for row in life.whole().rows],
            "gauges": [[cell.text for cell in row.cells] for row in gauges.whole().rows],
            "changes": [list(one) for one in changes_of(vessel)],
        }
    )


def changes_of(vessel: Vessel) -> list[tuple[str, ...]]:
    """When, what and by whom: each entry of the trail about the cask's own row, oldest first."""
    entries: list[Any] = list(told_entries().filter(table=Cask._meta.db_table, row=str(vessel.pk)).order_by("pk"))
    return [
        (
            figures.moment(entry.at, year=True),
            "came onto the list"
            if told.is_first
            else "; ".join(f"{one.what}: {one.before or 'blank'} to {one.after or 'blank'}" for one in told.changes),
            told.by,
        )
        for entry, told in zip(entries, tell(entries), strict=True)
        if told.is_first or told.changes
    ]


def _value(fact: Fact) -> str:
    said = f"{fact.text} {fact.unit}".strip()
    return f"{said} ({fact.note})" if fact.note else said
