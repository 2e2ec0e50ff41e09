"""Adds a dated figure of the site with its source: duty rate, review threshold, cask band, cause, usual figure."""

from __future__ import annotations

from argparse import ArgumentTypeError
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any, Final

from django.core.management.base import BaseCommand, CommandError, CommandParser

from distillery.rules import setting

SERVICES: Final = {
    "duty-rate": setting.set_duty_rate,
    "threshold": setting.set_threshold,
    "cask-band": setting.set_cask_band,
    "loss-cause": setting.add_loss_cause,
    "usual-figure": setting.set_usual_figure,
}
TEXTS: Final = {
    "duty-rate": ("tax_type",),
    "threshold": ("operation", "vessel"),
    "cask-band": ("warehouse", "cask_kind"),
    "loss-cause": ("name",),
    "usual-figure": ("name",),
}
NUMBERS: Final = {
    "duty-rate": ("strength_from_percent", "strength_to_percent", "pounds_per_lpa"),
    "threshold": (
        "usual_percent",
        "usual_half_width_percent",
        "spread_percent",
        "threshold_percent",
        "floor_lpa",
    ),
    "cask-band": ("low_percent_a_year", "high_percent_a_year"),
    "loss-cause": (),
    "usual-figure": ("expected", "spread"),
}
OPTIONAL: Final = frozenset({"tax_type", "vessel", "warehouse", "cask_kind", "expected"})


class Command(BaseCommand):
    help = "Adds a dated figure with its source. Earlier figures stay as they are and hold for the days before."

    def add_arguments(self, parser: CommandParser) -> None:
        kinds = parser.add_subparsers(dest="kind", required=True, metavar="KIND")
        for kind in SERVICES:
            one = kinds.add_parser(kind)
            one.add_argument("--from-day", type=_day, required=True, metavar="YYYY-MM-DD")
            one.add_argument("--source", required=True, help="law, notice or records it rests on")
            for name in TEXTS[kind]:
                one.add_argument(_flag(name), required=name not in OPTIONAL, default="")
            for name in NUMBERS[kind]:
                one.add_argument(_flag(name), type=_number, required=name not in OPTIONAL)

    def handle(self, *args: Any, **options: Any) -> None:
        kind = str(options["kind"])
        names = ("from_day", "source", *TEXTS[kind], *NUMBERS[kind])
        try:
            row = SERVICES[kind](**{name: options[name] for name in names})  # type: ignore[operator]
        except setting.Unsettable as refused:
            raise CommandError(f"{_flag(refused.field)}: {refused.sentence}") from refused
        self.stdout.write(f"Set, and holds from {row.from_day:%Y-%m-%d}.")


def _flag(name: str) -> str:
    return f"--{name.replace('_', '-')}"


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise ArgumentTypeError(f"{text} is no day: write it as 2027-02-01") from error


def _number(text: str) -> Decimal:
    try:
        return Decimal(text)
    except InvalidOperation as error:
        raise ArgumentTypeError(f"{text} is no number") from error
