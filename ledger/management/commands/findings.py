"""Lists what a month's figures leave to be looked into, most serious first."""

from __future__ import annotations

import json
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from distillery.figures import PLAIN, lpa, moment
from distillery.plant.models import MICRO
from ledger.comparing.findings import findings
from ledger.month import NoSuchPeriod, bounds


class Command(BaseCommand):
    help = "Lists findings: differences beyond the review threshold and gauges apart from their book."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--period", help="a month such as 2027-03; everything posted if left out")
        parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")

    def handle(self, *args: Any, **options: Any) -> None:
        period: str | None = options["period"]
        if period is not None:
            try:
                bounds(period)
            except NoSuchPeriod as unknown:
                raise CommandError(str(unknown)) from unknown
        found = findings(period)
        if options["json"]:
            self.stdout.write(
                json.dumps(
                    [
                        {
                            "kind": one.kind,
                            "record": one.record,
                            "operation": one.operation,
                            "at": one.at.isoformat(),
                            "difference_lpa": one.difference_ul / MICRO,
                            "uncertainty_lpa": round(one.uncertainty_ul / MICRO, 4),
                            "threshold_lpa": one.threshold_ul / MICRO,
                            "state": one.state,
                            "found_again_at": one.found_again or None,
                            "likely": [
                                {
                                    "cause": cause.cause,
                                    "record": cause.record,
                                    "field": cause.field,
                                    "written": cause.written,
                                    "would_be": cause.would_be,
                                    "leaves_lpa": cause.leaves_lpa,
                                }
                                for cause in one.likely
                            ],
                        }
                        for one in found
                    ]
                )
            )
            return
        if not found:
            self.stdout.write("Nothing is beyond its review threshold.")
        for one in found:
            self.stdout.write(
                f"{one.record:10} {moment(one.at, year=True)}  {one.kind:12} "
                f"{lpa(one.difference_ul, style=PLAIN):>9} LPA "
                f"(threshold {lpa(one.threshold_ul, style=PLAIN)})  {one.sentence}"
            )
            for cause in one.likely:
                self.stdout.write(f"{'':10} {cause.field} {cause.written} -> {cause.would_be}: {cause.cause}")
