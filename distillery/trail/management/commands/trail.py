"""Says what was changed in rows that no movement's seal covers: when, which, from what to what, by whom."""

from __future__ import annotations

import json
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from distillery import figures
from distillery.trail.telling import NoSuchDay, Told, day_of, told


class Command(BaseCommand):
    help = (
        "Prints the trail, newest first: what was entered, changed or removed in rows that no movement's seal covers."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--since", metavar="DAY", help="only from this day on, as 2027-03-04 on the site's clock")
        parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            since = day_of(options["since"]) if options["since"] else None
        except NoSuchDay as unknown:
            raise CommandError(str(unknown)) from unknown
        lines = told(since=since)
        if options["json"]:
            between = "["
            for one in lines:
                self.stdout.write(between + json.dumps(_as_data(one)), ending="")
                between = ",\n"
            self.stdout.write("]" if between != "[" else "[]")
            return
        nothing = True
        for one in lines:
            nothing = False
            self.stdout.write(_as_text(one))
        if nothing:
            self.stdout.write("Nothing has been written since then." if since else "Nothing has been written yet.")


def _as_data(one: Told) -> dict[str, object]:
    return {
        "at": timezone.localtime(one.at).isoformat(),
        "which": one.which,
        "act": one.act,
        "changes": [{"what": change.what, "from": change.before, "to": change.after} for change in one.changes],
        "by": one.by,
    }


def _as_text(one: Told) -> str:
    by = f", by {one.by}" if one.by else ""
    head = f"{figures.moment(one.at, year=True)}  {one.which}: {one.act}{by}"
    if one.is_first:
        return head
    changes = (f"    {two.what}: {two.before or 'blank'} -> {two.after or 'blank'}" for two in one.changes)
    return "\n".join([head, *changes])
