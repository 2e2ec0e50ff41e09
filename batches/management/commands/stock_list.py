"""What is on the site: `manage.py stock_list --on 2027-03-31 --json`."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from collections.abc import Iterable, Iterator
from datetime import date
from itertools import chain
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from batches.counting.on_site import SAID_IN_LIST, InStock, NotADay, StockOn, as_plain
from distillery import figures
from distillery.database.one_moment import as_at_one_moment


class Command(BaseCommand):
    help = "Lists what vessels, casks and bottled stock hold at the end of a day, and how that is known."
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--on", default="", help="the day, as 2027-03-31; today without it")
        parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")

    def handle(self, *args: Any, **options: Any) -> None:
        with as_at_one_moment():
            try:
                stock = StockOn(_day(options["on"]))
            except NotADay as error:
                raise CommandError(str(error)) from error
            for part in _document(stock) if options["json"] else _text(stock):
                self.stdout.write(part, ending="")


def _day(typed: str) -> date | None:
    try:
        return date.fromisoformat(typed) if typed else None
    except ValueError as error:
        raise CommandError(f"'{typed}' is not a day; write it as 2027-03-31.") from error


def _document(stock: StockOn) -> Iterator[str]:
    """The JSON document piece by piece: a site may have any number of casks."""
    parts: list[tuple[str, str, Iterable[InStock]]] = [
        ("vessels", "vessel", stock.vessels()),
        ("casks", "cask", stock.every_cask()),
        ("bottled", "lot", stock.bottled()),
    ]
    yield "{"
    for name, called, items in parts:
        yield f'{"" if name == "vessels" else ", "}"{name}": ['
        for place, one in enumerate(as_plain(items, called)):
            yield (", " if place else "") + json.dumps(one, ensure_ascii=False)
        yield "]"
    yield "}\n"


def _text(stock: StockOn) -> Iterator[str]:
    yield f"Stock on {figures.day(stock.day, year=True)}\n"
    heads = f"  {'':<14} {'place':<34} {'litres at 20 °C':>16} {'% vol':>7} {'LPA':>12}  known by\n"
    for title, items in (("Vessels", stock.vessels()), ("Casks", stock.every_cask()), ("Bottled", stock.bottled())):
        rows = iter(items)
        first = next(rows, None)
        yield f"{title}\n" if first is not None else f"{title}: none\n"
        if first is None:
            continue
        yield heads
        pure_ul = 0
        for one in chain((first,), rows):
            pure_ul += one.pure_ul
            yield _line(one)
        yield f"  {'Together':<14} {'':<34} {'':>16} {'':>7} {figures.lpa(pure_ul):>12}\n"


def _line(one: InStock) -> str:
    litres = "" if one.litres is None else figures.litres(one.litres)
    percent = "" if one.percent is None else figures.percent(one.percent)
    basis = SAID_IN_LIST.get(one.basis, one.basis)
    since = f" {figures.moment(one.at, year=True)}" if one.at is not None else ""
    place = f"{one.said or one.place}" if one.bottles is not None else one.place
    said = f" ({one.said})" if one.said and one.bottles is None else ""
    code = one.code or "no lot"
    return f"  {code:<14} {place:<34} {litres:>16} {percent:>7} {figures.lpa(one.pure_ul):>12}  {basis}{since}{said}\n"
