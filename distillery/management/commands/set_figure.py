"""Adds a dated figure of the site with its source: duty rate, review threshold, cask band, cause, usual figure, what a
name needs."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any, Final

from django.core.management.base import BaseCommand, CommandError, CommandParser

from distillery import typed
from distillery.rules import names, setting

SERVICES: Final = {
    "duty-rate": setting.set_duty_rate,
    "rounding-rule": setting.set_rounding_rule,
    "threshold": setting.set_threshold,
    "cask-band": setting.set_cask_band,
    "loss-cause": setting.add_loss_cause,
    "usual-figure": setting.set_usual_figure,
    "name-requirement": names.set_requirement,
}
TEXTS: Final = {
    "duty-rate": ("tax_type", "reason"),
    "rounding-rule": ("name", "way", "reason"),
    "threshold": ("operation", "vessel"),
    "cask-band": ("warehouse", "cask_kind"),
    "loss-cause": ("name",),
    "usual-figure": ("name",),
    "name-requirement": ("name", "code", "said", "measure", "way", "words", "unit"),
}
NUMBERS: Final = {
    "duty-rate": ("strength_from_percent", "strength_to_percent", "pounds_per_lpa"),
    "rounding-rule": ("step",),
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
    "name-requirement": ("limit",),
}
DAYS: Final = {"duty-rate": ("to_day",)}
# Where what is owed at it goes on the next return, since the month of its first day is closed.
OWED_LATER: Final = frozenset({"duty-rate", "rounding-rule"})
OPTIONAL: Final = frozenset(
    {"tax_type", "reason", "vessel", "warehouse", "cask_kind", "expected", "to_day", "limit", "words", "unit"}
)


class Command(BaseCommand):
    help = "Adds a dated figure with its source. Earlier figures stay as they are and hold for the days before."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        kinds = parser.add_subparsers(dest="kind", required=True, metavar="KIND")
        for kind in SERVICES:
            one = kinds.add_parser(kind)
            # Taken as text, so that what cannot be read is refused like every other figure: a sentence and status 1.
            one.add_argument("--from-day", required=True, metavar="YYYY-MM-DD")
            one.add_argument("--source", required=True, help="law, notice or records it rests on")
            for name in DAYS.get(kind, ()):
                one.add_argument(_flag(name), metavar="YYYY-MM-DD", default="")
            for name in (*TEXTS[kind], *NUMBERS[kind]):
                one.add_argument(_flag(name), required=name not in OPTIONAL, default="")
            if kind in OWED_LATER:
                said = "enter it for a closed month on which none was known: what is owed goes on the next return"
                one.add_argument("--owed-later", action="store_true", help=said)

    def handle(self, *args: Any, **options: Any) -> None:
        kind = str(options["kind"])
        given: dict[str, Any] = {name: options[name] for name in ("source", *TEXTS[kind])}
        given |= {name: _day(name, options[name]) for name in ("from_day", *DAYS.get(kind, ()))}
        given |= {name: _number(name, options[name]) for name in NUMBERS[kind]}
        if kind in OWED_LATER:
            given["owed_later"] = options["owed_later"]
        try:
            row = SERVICES[kind](**given)  # type: ignore[operator]
        except setting.Unsettable as refused:
            raise CommandError(f"{_flag(refused.field)}: {refused.sentence}") from refused
        self.stdout.write(f"Set, and holds from {row.from_day:%Y-%m-%d}.")


def _flag(name: str) -> str:
    return f"--{name.replace('_', '-')}"


def _day(name: str, text: str) -> date | None:
    if not text and name in OPTIONAL:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise CommandError(f"{_flag(name)}: {text} is no day: write it as 2027-02-01") from error


def _number(name: str, text: Any) -> Decimal | None:
    if text == "" and name in OPTIONAL:
        return None
    try:
        return typed.figure(str(text))
    except typed.NotAFigure as error:
        raise CommandError(f"{_flag(name)}: {error}") from error
