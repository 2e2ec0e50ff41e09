"""The places of Site, and what stands on its first page beside the lists."""

from __future__ import annotations

from django.urls import reverse

from batches.first_month import is_over
from batches.models import Record
from batches.pages.setting_up.declared import SETTINGS
from distillery import figures
from distillery.clock.reading import books_today, site_day
from distillery.pages import Link
from distillery.plant.due import months_after
from distillery.rules.stating import RECORDS, intervals


def site_places(current: str) -> list[Link]:
    """The strip of places inside Site; `current` is the name of a route, or a kind of dated figure. The kinds stand
    within one place."""
    kinds = [
        Link(one.title, reverse("site_setting", args=[one.kind]), current=current == one.kind)
        for one in SETTINGS.values()
    ]
    is_open = any(one.current for one in kinds)
    return [
        Link("Site", reverse("site"), current=current == "site"),
        Link("People", reverse("people"), current=current == "people"),
        Link("Figures", kinds[0].href, current=is_open, within=tuple(kinds) if is_open else ()),
        Link("Figures asked for", reverse("figures_waiting"), current=current == "figures_waiting"),
        Link("What is due", reverse("due"), current=current == "due"),
        Link("Stock periods", reverse("stock_periods")),
        Link("Warehouses", reverse("warehouses_kept")),
    ]


def first_month_link() -> Link | None:
    """The way to the first month's list while no period is closed."""
    return None if is_over() else Link("First month", reverse("first_month"))


def retention() -> str:
    """How long records are kept here, by which source, and until when at least the oldest is."""
    rule = intervals(books_today()).get(RECORDS)
    if rule is None or not rule.months:
        return "No time is set for which records are kept; the program takes none out of the books."
    said = f"Records are kept {_years(rule.months)} ({rule.source}). The program takes none out of the books."
    oldest = Record.objects.order_by("happened_from").values_list("happened_from", flat=True).first()
    if oldest is None:
        return said
    day = site_day(oldest)
    until = figures.day(months_after(day, rule.months), year=True)
    return f"{said} The oldest is of {figures.day(day, year=True)}: kept until {until} at least."


def _years(months: int) -> str:
    years, rest = divmod(months, 12)
    if rest:
        return f"{months} months"
    return "1 year" if years == 1 else f"{years} years"
