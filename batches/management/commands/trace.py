"""Follows a number back and forward: `manage.py trace SR0007`."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from collections.abc import Sequence
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from batches.tracing.trace import NoSuchReference, Traced, refer, trace_back, trace_forward
from distillery import figures
from distillery.figures import MICROLITRES_A_LITRE


class Command(BaseCommand):
    help = "Shows what a record, lot, vessel, cask or bottling came from and what became of it, with shares."
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("ref", help="any record, lot, vessel, cask or bottling number")
        parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            ref = refer(options["ref"]).ref
            back, forward = trace_back(ref), trace_forward(ref)
        except NoSuchReference as error:
            raise CommandError(str(error)) from error
        if options["json"]:
            document = {"ref": ref, "back": [_row(one) for one in back], "forward": [_row(one) for one in forward]}
            self.stdout.write(json.dumps(document, ensure_ascii=False))
            return
        self.stdout.write("\n".join([*_lines(f"{ref} came from", back), *_lines(f"{ref} went into", forward)]))


def _row(one: Traced) -> dict[str, str | float]:
    return {
        "record": one.record,
        "kind": one.kind,
        "lpa": one.pure_ul / MICROLITRES_A_LITRE,
        "share": one.share,
        "of_all": one.of_all,
    }


def _lines(title: str, traced: Sequence[Traced]) -> list[str]:
    if not traced:
        return [f"{title}: nothing on record."]
    lines = [f"{title} (litres of pure alcohol, share of its kind):"]
    for one in traced:
        share = figures.percent(100 * one.share, 2)
        lines.append(f"  {one.kind:<22} {one.record:<14} {figures.lpa(one.pure_ul):>12} {share:>8} %")
    return lines
