"""What is known of a cask, as facts: what it is, whose, where, what it holds, and what it asks for."""

from __future__ import annotations

from batches.casks.standing import gone_by, to_regauge
from batches.models import Mention, Record
from batches.pages.places.cask_table import note_ages
from batches.pages.records.shown import record_address, title_of
from distillery import figures, pages
from distillery.clock.reading import site_day
from distillery.plant.models import Cask, Vessel
from ledger.statements.balances import Holding

NOT_RECORDED = "not recorded"


def facts_of(vessel: Vessel, held: Holding | None) -> list[pages.Fact]:
    """All of them, in the order in which they are read."""
    known = vessel.cask
    return [*_what_it_is(known), *_what_it_holds(vessel, held)]


def _what_it_is(known: Cask) -> list[pages.Fact]:
    head = [known.head_number, str(known.head_year or ""), known.head_distillery]
    facts = [
        pages.Fact("Kind", known.kind),
        pages.Fact("Wood", known.wood or NOT_RECORDED),
        pages.Fact("Fill", str(known.fill_number)),
        pages.Fact("Size", figures.litres_from_ul(known.nominal_ul, 0), "L"),
        pages.Fact("Place", known.place or NOT_RECORDED),
        pages.Fact("Owner", known.owner or NOT_RECORDED),
        pages.Fact("On the head", ", ".join(one for one in head if one) or NOT_RECORDED),
    ]
    if known.tare_g is not None:
        facts.append(pages.Fact("Tare", figures.kilograms(known.tare_g), "kg"))
    if known.seen_leaking_at is not None and known.pk in {one.pk for one in to_regauge()}:
        since = f"seen leaking {figures.moment(known.seen_leaking_at, year=True)}"
        facts.append(pages.Fact("Asks for", "a regauge", note=since, state=pages.LOOK))
    return facts


def _what_it_holds(vessel: Vessel, held: Holding | None) -> list[pages.Fact]:
    known = vessel.cask
    if held is None or held.pure_ul <= 0:
        left = gone_by([known]).get(known.pk)
        if left is None:
            return [pages.Fact("Book", figures.lpa(0), "LPA", note="empty")]
        since = f"gone since {figures.day(left.happened_from, year=True)}, by {left.number}"
        return [pages.Fact("Book", figures.lpa(0), "LPA", note=since, href=record_address(left))]
    facts = [pages.Fact("Book", figures.lpa(held.pure_ul), "LPA")]
    if held.litres20 is not None and held.percent20 is not None:
        facts.append(pages.Fact("Litres at 20 °C", figures.litres(held.litres20), "L"))
        facts.append(pages.Fact("Strength at 20 °C", figures.percent(held.percent20), "% vol"))
    if known.filled_at is None:
        return facts
    facts.append(pages.Fact("Filled", figures.day(known.filled_at, year=True)))
    note_ages([known])
    if (age := getattr(known, "age", None)) is not None:
        facts.append(pages.Fact("Age", figures.number(age, 1), "years"))
    first = known.first_warehoused_on or site_day(known.filled_at)
    facts.append(pages.Fact("First warehoused", figures.day(first, year=True)))
    fill = filling_of(vessel)
    if fill is not None:
        note = title_of(fill.kind).lower()
        facts.append(pages.Fact("Filled by", fill.number, href=record_address(fill), note=note))
    return facts


def filling_of(vessel: Vessel) -> Record | None:
    """The record that filled a cask last."""
    if vessel.cask.filled_at is None:
        return None
    named = Mention.objects.filter(what=Mention.What.VESSEL, code=vessel.code)
    return Record.objects.filter(pk__in=named.values("record"), happened_from=vessel.cask.filled_at).first()
