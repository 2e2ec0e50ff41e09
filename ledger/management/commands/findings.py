"""Lists what a month's figures leave to be looked into, most serious first."""

from __future__ import annotations

import json
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from distillery.figures import PLAIN, difference, lpa, moment
from distillery.plant.models import MICRO
from ledger.comparing.findings.finding import Finding
from ledger.comparing.findings.likely import Likely
from ledger.enquiries import state_of
from ledger.enquiries.looking import try_everything, try_month
from ledger.statements.month import NoSuchPeriod, bounds
from ledger.words_of_columns import words_of


class Command(BaseCommand):
    help = "Lists findings: differences beyond the review threshold, gauges apart from their book, lasting losses."
    requires_system_checks = []

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
        tried = try_month(period) if period is not None else try_everything()
        if tried.month is None:
            raise CommandError(" ".join(tried.not_compared))
        for sentence in tried.not_compared:
            self.stderr.write(sentence)
        found = tried.findings
        states = state_of(one.key for one in found)
        if options["json"]:
            self.stdout.write(json.dumps([as_data(one, states.get(one.key, "")) for one in found]))
            return
        if not found:
            self.stdout.write("Nothing is beyond its review threshold.")
        for one in found:
            self.stdout.write(
                f"{one.record:10} {moment(one.at, year=True)}  {one.kind:12} "
                f"{difference(one.difference_ul, style=PLAIN):>17} LPA "
                f"(threshold {lpa(one.threshold_ul, style=PLAIN)})  {one.sentence} [{states.get(one.key, one.state)}]"
            )
            for line in one.lines:
                said = " or ".join(_cause(cause) for cause in line.causes)
                self.stdout.write(f"{'':10} {said}")
                if line.look_next:
                    self.stdout.write(f"{'':10} To tell: {line.look_next}")


def as_data(one: Finding, state: str = "") -> dict[str, Any]:
    """A finding as the command prints it: LPA, log numbers and columns, causes ranked, its enquiry's state if any."""
    return {
        "kind": one.kind,
        "record": one.record,
        "operation": one.operation,
        "at": one.at.isoformat(),
        "difference_lpa": one.difference_ul / MICRO,
        "uncertainty_lpa": round(one.uncertainty_ul / MICRO, 4),
        "threshold_lpa": one.threshold_ul / MICRO,
        "judged_against": one.judged_against or None,
        "judged_against_lpa": one.in_ul / MICRO,
        "state": state or one.state,
        "key": one.key,
        "found_again_at": one.found_again or None,
        "explains": list(one.under),
        "since": list(one.since) or None,
        "share": None if one.share is None else round(one.share, 6),
        "share_uncertainty": None if one.share_uncertainty is None else round(one.share_uncertainty, 6),
        "likely": [_as_data(cause) for cause in one.likely],
        "lines": [
            {
                "statistic": round(line.statistic, 1),
                "look_next": line.look_next or None,
                "causes": [_as_data(cause) for cause in line.causes],
            }
            for line in one.lines
        ],
    }


def _as_data(cause: Likely) -> dict[str, Any]:
    return {
        "cause": cause.cause,
        "record": cause.record,
        "field": cause.field,
        "written": cause.written,
        "would_be": cause.would_be,
        "leaves_lpa": cause.leaves_lpa,
        "vessel": cause.vessel or None,
    }


def _cause(cause: Likely) -> str:
    label = words_of(cause.record_kind, cause.field).label if cause.field else ""
    changed = f"{label} {cause.written} -> {cause.would_be}: " if label else ""
    return f"{changed}{cause.cause} ({cause.record})"
