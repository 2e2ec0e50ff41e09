"""Adds a dated figure of the site with its source, by the boxes of the form of its page."""

from __future__ import annotations

from typing import Any, Final

from django import forms
from django.core.management.base import BaseCommand, CommandError, CommandParser

from distillery.rules.setting.entering import Unsettable
from distillery.typed import meaning as typed

# What a figure is called here, with the kind of its form.
KINDS: Final = {
    "duty-rate": "rate",
    "rounding-rule": "rounding",
    "threshold": "thresholds",
    "cask-band": "bands",
    "loss-cause": "causes",
    "usual-figure": "usual",
    "name-requirement": "names",
    "reporting": "reporting",
    "interval": "intervals",
    "details": "details",
    "package-errors": "packages",
    "bottle-sizes": "sizes",
}
# Who may run commands of the site may say why or leave it out.
OPTIONAL: Final = frozenset({"reason"})


class Command(BaseCommand):
    help = "Adds a dated figure with its source. Earlier figures stay as they are and hold for the days before."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        from batches.pages.setting_up import asked as _declares  # noqa: F401
        from batches.pages.setting_up.declared import FORMS

        kinds = parser.add_subparsers(dest="kind", required=True, metavar="KIND")
        for name, kind in KINDS.items():
            one = kinds.add_parser(name, help=_plain(FORMS[kind].title))
            # Taken as text, so that what cannot be read is refused like every other figure: a sentence and status 1.
            for box, field in FORMS[kind].base_fields.items():
                said = _plain(" ".join(part for part in (f"{field.label}.", str(field.help_text)) if part))
                if isinstance(field, forms.BooleanField):
                    one.add_argument(_flag(box), action="store_true", help=said)
                else:
                    asked = field.required and box not in OPTIONAL
                    one.add_argument(_flag(box), required=asked, default="", help=said)

    def handle(self, *args: Any, **options: Any) -> None:
        from batches.pages.setting_up import asked as _declares  # noqa: F401
        from batches.pages.setting_up.declared import FORMS

        kind = FORMS[KINDS[str(options["kind"])]]
        given = {box: "on" if options[box] is True else options[box] or "" for box in kind.base_fields}
        # A box of bands has a line for each.
        given |= {box: given[box].replace(";", "\n") for box in ("bands",) if box in given}
        form = kind(given)
        _as_a_command(form.fields, given)
        if not form.is_valid():
            box, sentences = next(iter(form.errors.items()))
            raise CommandError(f"{_flag(box)}: {sentences[0]}")
        try:
            row: Any = form.put(None)
        except Unsettable as refused:
            box = form.beside.get(refused.field, refused.field)
            raise CommandError(f"{_flag(box)}: {refused.sentence}") from refused
        self.stdout.write(f"Set, and holds from {row.from_day:%Y-%m-%d}.")


def _as_a_command(fields: dict[str, forms.Field], given: dict[str, str]) -> None:
    """What may be chosen is left to the service, which says what there is; what is refused says what was typed."""
    for box, field in list(fields.items()):
        if isinstance(field, forms.ChoiceField):
            fields[box] = forms.CharField(required=field.required)
        elif isinstance(field, forms.DateField):
            field.error_messages["invalid"] = f"{given[box]} is no day: write it as 2027-02-01."
        elif isinstance(field, forms.DecimalField):
            field.error_messages["required"] = _refused("")
        if box in OPTIONAL:
            fields[box].required = False


def _refused(text: str) -> str:
    try:
        typed.figure(text)
    except typed.NotAFigure as refused:
        return str(refused)
    return ""


def _flag(name: str) -> str:
    return f"--{name.replace('_', '-')}"


def _plain(text: str) -> str:
    """Help as the parser takes it, which reads a per cent sign."""
    return text.replace("%", "%%")
