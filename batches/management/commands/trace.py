"""Follows a number back and forward: `manage.py trace SR0007`."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from collections.abc import Sequence
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from batches.tracing.document import as_document
from batches.tracing.trace import NoSuchReference, Traced, follow_trace, refer
from distillery import figures


class Command(BaseCommand):
    help = "Shows what a record, lot, vessel, cask or bottling came from and what became of it, with shares."
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "ref", help="any record, lot, vessel, cask, bottling or document number, a bottled stock or a consignee"
        )
        parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            trace = follow_trace(refer(options["ref"]))
        except NoSuchReference as error:
            raise CommandError(str(error)) from error
        if options["json"]:
            self.stdout.write(json.dumps(as_document(trace), ensure_ascii=False))
            return
        ref = trace.start.ref
        lines = [*_lines(f"{ref} came from", trace.back), *_lines(f"{ref} went into", trace.forward)]
        if trace.not_known:
            lines.append(f"Not known where from, of what is in {ref}:")
            lines += [
                f"  {one.record or 'no record':<37} {figures.lpa(one.pure_ul):>12} "
                f"{figures.percent(100 * one.share, 2):>8} %  {one.why}"
                for one in trace.not_known
            ]
        self.stdout.write("\n".join(lines))


def _lines(title: str, traced: Sequence[Traced]) -> list[str]:
    if not traced:
        return [f"{title}: nothing on record."]
    lines = [f"{title} (litres of pure alcohol, share of its kind):"]
    for one in traced:
        share = figures.percent(100 * one.share, 2)
        lines.append(f"  {one.kind:<22} {one.record:<14} {figures.lpa(one.pure_ul):>12} {share:>8} %")
    return lines
