"""What a month's account is told of its malt and of what is not on record yet; nothing of it is kept."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.urls import reverse

from batches.distilling.mashes import mash_yields, together
from batches.distilling.periods import all_periods
from batches.distilling.yields import yields_of
from batches.models import Record, State
from batches.sheets.site import Site
from distillery import figures
from distillery.pages import Link
from ledger.statements.monthly.told import YieldLine

GRAMS_A_KILOGRAM = 1000
MOST, SHOWN = 100, 5


def yields_told(starts: datetime, ends: datetime) -> Iterable[YieldLine]:
    """The mashes begun in a month together, and each distillation period that ended in it."""
    mashes = mash_yields(starts, ends)
    if mashes:
        all_of_them = together(mashes)
        waiting = len(mashes) - all_of_them.count
        yield YieldLine(
            f"Wash of {figures.count(all_of_them.count)} {'mash' if all_of_them.count == 1 else 'mashes'}",
            reverse("record_list", args=[mashes[0].kind]),
            all_of_them.malt_g / GRAMS_A_KILOGRAM,
            all_of_them.reached,
            all_of_them.promised,
            f"{figures.count(waiting)} not declared yet" if waiting else "",
        )
    ended = [one for one in all_periods() if one.ended_at is not None and starts <= one.ended_at < ends]
    for worked in yields_of(ended, Site()):
        yield YieldLine(
            f"Distillation period {worked.period.number}, {worked.period.spirits}",
            reverse("distillation_period", args=[worked.period.number]),
            worked.malt_kilograms,
            worked.lpa_per_tonne,
            worked.predicted,
            "" if worked.settling.judged else "not judged",
        )


def not_written_told(starts: datetime, ends: datetime) -> Iterable[Link]:
    """Records begun in a month that are not finished, as one line for each kind."""
    begun = Record.objects.filter(state=State.OPEN, happened_from__gte=starts, happened_from__lt=ends)
    found = list(begun.order_by("happened_from", "pk").values_list("number", flat=True)[: MOST + 1])
    if found:
        said = "1 record is" if len(found) == 1 else f"{figures.count(min(len(found), MOST))} records are"
        more = " and more" if len(found) > MOST else ""
        yield Link(f"{said} not finished{more}", reverse("records"), ", ".join(found[:SHOWN]))
